// SPDX-License-Identifier: GPL-3.0-or-later
// Rolls of a stock together; frames that show something known. Film by spectra (random_rolls.h), not by the library's own curves.
#include "basefog/film/fit_stock.h"
#include "film/random_rolls.h"
#include "film/wedge.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <string>

using namespace basefog;
using namespace basefog::test;

namespace {

using synthetic::SceneKind;

constexpr std::array<SceneKind, 5> kKinds{SceneKind::hills, SceneKind::still_life, SceneKind::houses, SceneKind::portrait, SceneKind::forest};

RollSamples roll_of(const SeenStock& film, const std::string& id, double over, synthetic::Random& random) {
    RollSamples roll;
    roll.facts.id = id, roll.facts.stock = "s", roll.facts.session = "one", roll.facts.process = "C-41", roll.facts.own_process = "ECN-2";
    roll.facts.box_speed = 400, roll.facts.rating = 400 / std::exp2(over);
    roll.facts.stock_balance = Kelvin(film.random.stock.balance_kelvin), roll.facts.light = Kelvin(film.light);
    for (int c = 0; c < 3; ++c) {
        roll.base[c] = {Density(film.base[static_cast<std::size_t>(c)]), Density(0.0005), 100, MeasureFlag::none};
        roll.spot_noise[c] = 0.0008;
    }
    for (const SceneKind kind : kKinds) roll.frames.push_back(shoot(film, {{kind, 3, 0}, over, {}}, random));
    return roll;
}

double what_if(const FrameExposure& frame, double stops) {
    for (const WhatIf& w : frame.what_if)
        if (std::abs(w.stops.value() - stops) < 1e-9) return w.shadow_lost_percent;
    return -1;
}

}  // namespace

TEST_CASE("scenes that recur at other ratings tell the slope, and exposures come out on one scale") {
    synthetic::Random random(5);
    const SeenStock film(11, 5500);
    std::vector<RollSamples> rolls;
    for (const double over : {0.0, 1.0, 2.0}) rolls.push_back(roll_of(film, "R" + std::to_string(rolls.size()), over, random));
    const auto fit = fit_stock(rolls, {});
    REQUIRE(fit.has_value());
    for (const RollFilm& roll : fit->rolls) {
        CHECK_FALSE(has(roll.model.slope.g.flags, MeasureFlag::assumed));
        CHECK(roll.model.basis[1].find("different ratings") != std::string::npos);
    }
    std::vector<double> errors;
    for (std::size_t f = 0; f < kKinds.size(); ++f)
        for (std::size_t r = 1; r < 3; ++r)
            errors.push_back(std::abs((fit->rolls[r].frames[f].offset.value - fit->rolls[0].frames[f].offset.value).value() - static_cast<double>(r)));
    std::sort(errors.begin(), errors.end());
    CHECK(errors[errors.size() / 2] < 0.10);  // stops; the aim for a bracket
    CHECK(errors.back() < 0.35);
    // One roll alone has to assume its slope, and says so.
    CHECK(has(fit_stock({rolls.data(), 1}, {})->rolls[0].model.slope.g.flags, MeasureFlag::assumed));
}

TEST_CASE("frames of one scene are brought level wholly and scenes keep some of their own light") {
    synthetic::Random random(9);
    const SeenStock film(23, 5500);
    RollSamples roll = roll_of(film, "B", 0, random);
    for (const double stops : {-1.0, 1.0, 2.0}) roll.frames.push_back(shoot(film, {{kKinds[0], 3, 0}, stops, {}}, random));
    const auto fit = fit_stock({&roll, 1}, {});
    REQUIRE(fit.has_value());
    const auto& frames = fit->rolls[0].frames;
    const auto left = [&](std::size_t f) { return frames[f].offset.value.value() - to_stops(frames[f].render_level).value(); };
    for (std::size_t f = kKinds.size(); f < frames.size(); ++f) CHECK(left(f) == Approx(left(0)).margin(0.01));
    // A fifth of what scenes differ by stays to be seen.
    double most = 0;
    for (std::size_t f = 1; f < kKinds.size(); ++f) most = std::max(most, std::abs(left(f) - left(0)));
    CHECK(most > 0.02);
}

TEST_CASE("what-if of one roll meets what another lost, downwards and upwards") {
    // Expired film, deep scenes: shadows at stake. Points of the picture: median 3, worst 8 (the aims of design).
    synthetic::Random random(6);
    std::vector<double> errors;
    for (const std::uint64_t seed : {8U, 14U, 21U}) {
        const SeenStock film(seed, 5500);
        std::vector<RollSamples> rolls;
        for (const double over : {-2.0, -1.0, 0.0}) rolls.push_back(roll_of(film, "R" + std::to_string(rolls.size()), over, random));
        const auto fit = fit_stock(rolls, {});
        REQUIRE(fit.has_value());
        for (std::size_t f = 0; f < kKinds.size(); ++f)
            for (std::size_t a = 0; a < 3; ++a)
                for (std::size_t b = 0; b < 3; ++b) {
                    if (a == b) continue;
                    const double step = static_cast<double>(b) - static_cast<double>(a);
                    errors.push_back(std::abs(what_if(fit->rolls[a].frames[f], step) - fit->rolls[b].frames[f].shadow_lost_percent.value));
                    CAPTURE(seed, f, a, b, what_if(fit->rolls[a].frames[f], step), fit->rolls[b].frames[f].shadow_lost_percent.value);
                    CHECK(errors.back() < 8.0);
                }
    }
    std::sort(errors.begin(), errors.end());
    CHECK(errors[errors.size() / 2] < 3.0);
}

TEST_CASE("what-if of a roll is the mean over its pictures") {
    synthetic::Random random(4);
    const SeenStock film(31, 5500);
    const RollSamples roll = roll_of(film, "R", 1, random);
    const auto fit = fit_stock({&roll, 1}, {});
    REQUIRE(fit.has_value());
    const RollFilm& found = fit->rolls[0];
    REQUIRE(found.verdict.what_if.size() == found.frames[0].what_if.size());
    for (std::size_t k = 0; k < found.verdict.what_if.size(); ++k) {
        double shadow = 0, highlight = 0;
        for (const FrameExposure& f : found.frames) {
            shadow += f.what_if[k].shadow_lost_percent / static_cast<double>(found.frames.size());
            highlight += f.what_if[k].highlight_lost_percent / static_cast<double>(found.frames.size());
        }
        CHECK(found.verdict.what_if[k].stops == found.frames[0].what_if[k].stops);
        CHECK(found.verdict.what_if[k].shadow_lost_percent == Approx(shadow).margin(1e-9));
        CHECK(found.verdict.what_if[k].highlight_lost_percent == Approx(highlight).margin(1e-9));
    }
}

TEST_CASE("a step wedge measures the curve") {
    synthetic::Random random(7);
    const SeenStock film(17, 5500);
    const auto truth = film.slopes();
    RollSamples roll = roll_of(film, "W", 0, random);
    roll.frames.push_back(shoot_wedge(film, 11, 0.25, 1.2, random));  // as wide as 21 steps over a full frame
    const auto fit = fit_stock({&roll, 1}, {});
    REQUIRE(fit.has_value());
    const RollFilm& found = fit->rolls[0];
    REQUIRE(found.wedges.size() == 1);
    CHECK(found.wedges[0].frame == 5);
    CHECK(found.wedges[0].steps.size() >= 8);  // the lowest cannot be told from each other
    // Each step's density against the film's own.
    const double highest = found.wedges[0].steps.back().exposure.value();
    for (const WedgeStep& s : found.wedges[0].steps) {
        const auto d = film.neutral(1.2 - (highest - s.exposure.value()));
        for (int c = 0; c < 3; ++c) CHECK(s.density[c] == Approx(d[static_cast<std::size_t>(c)]).margin(0.004));
    }
    CHECK_FALSE(has(found.model.slope.g.flags, MeasureFlag::assumed));
    // 4 %: the straight line is not quite straight, and where it is read differs.
    for (std::size_t c = 0; c < 3; ++c) CHECK(found.model.slope[static_cast<int>(c)].value == Approx(truth[c]).epsilon(0.04));
    CHECK(found.verdict.frames == 5);  // a wedge is no picture
}

TEST_CASE("what is no wedge is not read as one") {
    synthetic::Random random(8);
    const SeenStock film(3, 5500);
    FrameSamples picture = shoot(film, {{SceneKind::meadow, 2, 0}, 0, {FrameUse::step_wedge, 0.15, {}, {}}}, random);
    CHECK_FALSE(film::read_wedge(picture, 0).has_value());
    CHECK_FALSE(film::read_wedge(FrameSamples{}, 0.15).has_value());
    // Steps too narrow to be told from the blur between them are not guessed at.
    CHECK_FALSE(film::read_wedge(shoot_wedge(film, 31, 0.1, 1.2, random), 0.1).has_value());
    RollSamples roll = roll_of(film, "N", 0, random);
    FrameSamples even;
    even.note = {FrameUse::step_wedge, 0.15, {}, {}};
    even.above_base = Image<DensityRgbi>(kSpotsAcross, kSpotsDown, {0.5F, 0.5F, 0.5F, 0});
    roll.frames.push_back(std::move(even));
    const auto fit = fit_stock({&roll, 1}, {});
    CHECK(fit->rolls[0].wedges.empty());
    CHECK(std::any_of(fit->rolls[0].findings.begin(), fit->rolls[0].findings.end(),
                      [](const Finding& f) { return f.code == "wedge-not-read" && f.where.frame == 5; }));
}

TEST_CASE("a grey card gives balance and level") {
    synthetic::Random random(9);
    const SeenStock film(23, 5500);
    RollSamples roll = roll_of(film, "G", 0, random);
    roll.frames.push_back(shoot(film, {{SceneKind::grey, 1, 0}, 0.5, {FrameUse::grey_card, 0, Stops(0.5), {}}}, random));
    const auto fit = fit_stock({&roll, 1}, {});
    const FilmModel& m = fit->rolls[0].model;
    const auto d = film.neutral(0.5 * kLog10Of2);
    std::array<double, 3> h{};
    for (int l = 0; l < 3; ++l) {
        const auto& row = m.dye_from_channel[static_cast<std::size_t>(l)];
        h[static_cast<std::size_t>(l)] = m.curves[l].exposure(Density(row[0] * d[0] + row[1] * d[1] + row[2] * d[2])).value() - m.balance[l].value();
    }
    CHECK(std::abs(h[0] - h[1]) < 0.03);  // log10 H, a tenth of a stop
    CHECK(std::abs(h[2] - h[1]) < 0.03);
    CHECK(m.balance_std.r < 0.02);
}

TEST_CASE("an earlier curve is a prior, flagged as such") {
    synthetic::Random random(10);
    const SeenStock film(29, 5500);
    RollSamples roll = roll_of(film, "E", 0, random);
    const auto truth = film.slopes();
    EarlierCurve earlier;
    for (int c = 0; c < 3; ++c) earlier.slope[c] = {truth[static_cast<std::size_t>(c)], 0.01, 3, MeasureFlag::none};
    earlier.rolls = 3;
    const double before = fit_stock({&roll, 1}, {})->rolls[0].model.common_slope_std;
    roll.facts.earlier_curve = earlier;
    const FilmModel m = fit_stock({&roll, 1}, {})->rolls[0].model;
    CHECK(m.common_slope_std < 0.6 * before);
    CHECK(has(m.slope.g.flags, MeasureFlag::assumed));
    CHECK(m.basis[1].find("3 earlier rolls") != std::string::npos);
    for (std::size_t c = 0; c < 3; ++c) CHECK(m.slope[static_cast<int>(c)].value == Approx(truth[c]).epsilon(0.06));
    earlier.slope.g.value = -1;  // nonsense is not used
    roll.facts.earlier_curve = earlier;
    CHECK(fit_stock({&roll, 1}, {})->rolls[0].model.common_slope_std == Approx(before).epsilon(0.2));
}

TEST_CASE("rolls compared: fog, speed and contrast, never by age") {
    synthetic::Random random(12);
    SeenStock fresh(31, 5500), old(31, 5500);
    fresh.random.stock = synthetic::cross_processed(synthetic::tungsten_500());
    old.random.stock = synthetic::aged(fresh.random.stock);
    const synthetic::Scanner scanner = synthetic::lamp_flatbed();
    for (SeenStock* s : {&fresh, &old}) {
        s->optics = synthetic::FilmOptics(s->random.stock, scanner);
        s->base = s->optics.base_density();
        s->offset = s->random.stock.light_offset(5500);
    }
    std::vector<RollSamples> rolls;
    rolls.push_back(roll_of(old, "old", 0, random));
    rolls.push_back(roll_of(fresh, "fresh", 0, random));
    rolls[0].facts.stock = "s, old";
    const auto fit = fit_stock(rolls, {});
    REQUIRE(fit->comparison.has_value());
    const StockComparison& c = *fit->comparison;
    CHECK(c.clearest == "fresh");
    REQUIRE(c.rolls.size() == 2);
    CHECK(c.rolls[1].roll == "old");
    for (int k = 0; k < 3; ++k)
        CHECK(c.rolls[1].fog[k].value.value() == Approx(old.base[static_cast<std::size_t>(k)] - fresh.base[static_cast<std::size_t>(k)]).margin(0.002));
    // Ageing took 0.20, 0.25 and 0.38 log10 H off the layers: 0.24 by the layers' weights in luminance (0.21, 0.72, 0.07 would give 0.25), 0.8 stop.
    const double slower = (c.rolls[1].speed.loss.value - c.rolls[0].speed.loss.value).value();
    CHECK(slower == Approx(0.25 / kLog10Of2).margin(0.4));
    CHECK(*c.rolls[1].speed.effective_index < *c.rolls[0].speed.effective_index);
    CHECK(c.text.find("slower") != std::string::npos);
}

TEST_CASE("which rolls are alike") {
    RollFacts a;
    a.stock = "x", a.process = "C-41", a.own_process = "ECN-2", a.box_speed = 500, a.stock_balance = Kelvin(3200);
    RollFacts b = a;
    CHECK(are_alike(a, b));
    b.stock = "y";
    CHECK(are_alike(a, b));  // the same kind of film under another name: an older purchase
    b.box_speed = 200;
    CHECK_FALSE(are_alike(a, b));
    b = a;
    b.process = "ECN-2";
    CHECK_FALSE(are_alike(a, b));
    CHECK_FALSE(are_alike(RollFacts{}, RollFacts{}));  // nothing told
}

TEST_CASE("no rolls, and rolls without a picture") {
    CHECK(fit_stock({}, {})->rolls.empty());
    std::vector<RollSamples> rolls(2);
    const auto fit = fit_stock(rolls, {});
    REQUIRE(fit.has_value());
    CHECK(fit->rolls.size() == 2);
    CHECK(std::isfinite(fit->rolls[0].model.curves.g.slope));
}
