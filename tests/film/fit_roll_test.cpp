// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/film/fit_roll.h"
#include "film/invented_roll.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <tuple>

using namespace basefog;
using namespace basefog::test;

namespace {

constexpr int kWidth = 180, kHeight = 120;

InventedFilm draw_film(Random& random) {
    InventedFilm f;
    for (std::size_t k = 0; k < 3; ++k) {
        f.slope[k] *= 1 + 0.08 * random.normal();
        f.speed[k] = k == 1 ? 0.0 : 0.04 * random.normal();
    }
    return f;
}

RollSamples draw_roll(const InventedFilm& film, Random& random, int frames) {
    RollSamples roll = empty_roll("T");
    for (int i = 0; i < frames; ++i) roll.frames.push_back(expose(film, paint_scene(random, kWidth, kHeight), kWidth, kHeight, 0.4 * random.normal(), random));
    return roll;
}

/// Red - green and blue - green the model gives a neutral of the film, some stops from grey.
std::array<double, 2> neutral_error(const FilmModel& m, const InventedFilm& f, double stops) {
    std::array<double, 3> d{}, layer{};
    for (int l = 0; l < 3; ++l) layer[static_cast<std::size_t>(l)] = invented_density(f, l, stops * kLog10Of2 + f.speed[static_cast<std::size_t>(l)]);
    for (std::size_t c = 0; c < 3; ++c)
        for (std::size_t l = 0; l < 3; ++l) d[c] += f.slope[c] * f.share[c][l] * layer[l];
    std::array<double, 3> h{};
    for (int l = 0; l < 3; ++l) {
        const auto& row = m.dye_from_channel[static_cast<std::size_t>(l)];
        h[static_cast<std::size_t>(l)] = m.curves[l].exposure(Density(row[0] * d[0] + row[1] * d[1] + row[2] * d[2])).value() - m.balance[l].value();
    }
    return {h[0] - h[1], h[2] - h[1]};
}

bool all_finite(const RollFilm& film) {
    bool ok = true;
    for (int i = 0; i < 3; ++i) ok = ok && std::isfinite(film.model.curves[i].slope) && std::isfinite(film.model.balance[i].value());
    for (const auto& row : film.model.dye_from_channel)
        for (const double v : row) ok = ok && std::isfinite(v);
    for (const FrameExposure& f : film.frames) ok = ok && std::isfinite(f.offset.value.value()) && std::isfinite(f.render_level.value());
    return ok;
}

}  // namespace

TEST_CASE("random rolls: a neutral comes out neutral, as nearly as stated") {
    int within = 0, n = 0;
    double squares = 0;
    for (std::uint64_t seed = 1; seed <= 16; ++seed) {
        Random random(seed);
        const InventedFilm film = draw_film(random);
        const auto fit = fit_roll(draw_roll(film, random, 6), {});
        REQUIRE(fit.has_value());
        const auto e = neutral_error(fit->model, film, 0);
        for (int k = 0; k < 2; ++k) {
            const double std = k == 0 ? fit->model.balance_std.r : fit->model.balance_std.b;
            CAPTURE(seed, k, e[static_cast<std::size_t>(k)], std);
            // Three sigma and a little for painted scenes, which are not photographs.
            CHECK(std::abs(e[static_cast<std::size_t>(k)]) < 3 * std + 0.01);
            within += std::abs(e[static_cast<std::size_t>(k)]) < std ? 1 : 0;
            squares += e[static_cast<std::size_t>(k)] * e[static_cast<std::size_t>(k)];
            ++n;
        }
    }
    // One sigma covers about two thirds; 32 draws scatter by 0.08. Painted scenes are tamer than photographs: more is no failure.
    CHECK(static_cast<double>(within) / n > 0.5);
    CHECK(std::sqrt(squares / n) < 0.05);  // the prior alone: 0.1 and more
}

TEST_CASE("one scene at several exposures: differences and crossover") {
    Random random(7);
    InventedFilm film;
    film.slope = {0.52, 0.56, 0.60};
    RollSamples roll = empty_roll("T");
    const auto scene = paint_scene(random, kWidth, kHeight);
    const std::vector<double> stops{-3, -2, -1, 0, 1, 2, 3};
    for (const double s : stops) roll.frames.push_back(expose(film, scene, kWidth, kHeight, s, random));
    const auto fit = fit_roll(roll, {});
    REQUIRE(fit.has_value());
    // The common slope is assumed and here 5 % off at most: errors beside that are the method's.
    const double scale = (0.52 * 0.56 * 0.60) / (fit->model.curves.r.slope * fit->model.curves.g.slope * fit->model.curves.b.slope);
    for (std::size_t i = 1; i < stops.size(); ++i) {
        const double got = (fit->frames[i].offset.value - fit->frames[i - 1].offset.value).value() / std::cbrt(scale);
        CAPTURE(stops[i], got);
        CHECK(got == Approx(1.0).margin(0.10));
    }
    const double red = fit->model.curves.r.slope / fit->model.curves.g.slope, blue = fit->model.curves.b.slope / fit->model.curves.g.slope;
    CHECK(red == Approx(0.52 / 0.56).epsilon(0.03));
    CHECK(blue == Approx(0.60 / 0.56).epsilon(0.03));
    // A neutral keeps its colour from three stops under to three over.
    const auto low = neutral_error(fit->model, film, -2), high = neutral_error(fit->model, film, 3);
    CHECK(std::abs(low[0] - high[0]) < 0.06);
    CHECK(std::abs(low[1] - high[1]) < 0.06);
}

TEST_CASE("what-if meets the neighbour that was exposed so") {
    Random random(11);
    const InventedFilm film;
    RollSamples roll = empty_roll("T");
    const auto scene = paint_scene(random, kWidth, kHeight);
    const std::vector<double> stops{-3, -2, -1, 0};
    for (const double s : stops) roll.frames.push_back(expose(film, scene, kWidth, kHeight, s, random));
    const auto fit = fit_roll(roll, {});
    REQUIRE(fit.has_value());
    const auto predicted = [&](std::size_t i, double s) {
        for (const WhatIf& w : fit->frames[i].what_if)
            if (std::abs(w.stops.value() - s) < 1e-9) return w.shadow_lost_percent;
        return -1.0;
    };
    CHECK(fit->frames[0].shadow_lost_percent.value > fit->frames[3].shadow_lost_percent.value + 2);
    for (std::size_t i = 1; i < stops.size(); ++i) {
        CAPTURE(stops[i], predicted(i, -1), fit->frames[i - 1].shadow_lost_percent.value);
        // Points of the picture; the film's toe has another shape than the library's, which moves a thin frame's share by 4.
        CHECK(std::abs(predicted(i, -1) - fit->frames[i - 1].shadow_lost_percent.value) < 6.0);
        CHECK(predicted(i, 0) == Approx(fit->frames[i].shadow_lost_percent.value));
    }
    // More exposure never loses more shadow, nor less highlight.
    for (const FrameExposure& f : fit->frames)
        for (std::size_t k = 1; k < f.what_if.size(); ++k) {
            CHECK(f.what_if[k].shadow_lost_percent <= f.what_if[k - 1].shadow_lost_percent + 1e-9);
            CHECK(f.what_if[k].highlight_lost_percent >= f.what_if[k - 1].highlight_lost_percent - 1e-9);
        }
}

TEST_CASE("black-and-white has one layer and no balance") {
    Random random(3);
    InventedFilm film;
    film.share = {{{0.33, 0.33, 0.34}, {0.33, 0.33, 0.34}, {0.33, 0.33, 0.34}}};
    film.slope = {0.62, 0.62, 0.62};
    RollSamples roll = draw_roll(film, random, 4);
    roll.silver_image = true;
    const auto fit = fit_roll(roll, {});
    REQUIRE(fit.has_value());
    CHECK(fit->model.silver);
    CHECK(fit->model.balance == Rgb<LogExposure>{});
    CHECK(fit->model.curves.r == fit->model.curves.b);
    roll.silver_image = false;
    roll.facts.black_and_white_told = true;
    CHECK(fit_roll(roll, {})->model.silver);
}

TEST_CASE("little or nothing to go by") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    RollSamples roll = empty_roll("T");
    SECTION("no frames") {}
    SECTION("one frame") {
        Random random(5);
        roll = draw_roll(InventedFilm{}, random, 1);
    }
    SECTION("all blank") {
        for (int i = 0; i < 3; ++i) {
            roll.frames.emplace_back();
            roll.frames.back().kind = FrameKind::blank;
            roll.frames.back().above_base = Image<DensityRgbi>(kWidth, kHeight);
        }
    }
    SECTION("pictures of nothing") {
        for (int i = 0; i < 3; ++i) {
            roll.frames.emplace_back();
            roll.frames.back().above_base = Image<DensityRgbi>(kWidth, kHeight);
        }
    }
    SECTION("not a number anywhere") {
        roll.frames.emplace_back();
        const auto v = static_cast<float>(nan);
        roll.frames.back().above_base = Image<DensityRgbi>(kWidth, kHeight, {v, v, v, v});
    }
    SECTION("a mask of another size") {
        roll.frames.emplace_back();
        roll.frames.back().above_base = Image<DensityRgbi>(kWidth, kHeight);
        roll.frames.back().usable = Image<std::uint8_t>(3, 3);
    }
    const auto fit = fit_roll(roll, {});
    REQUIRE(fit.has_value());
    CHECK(fit->frames.size() == roll.frames.size());
    CHECK(all_finite(*fit));
    CHECK(fit->verdict.outcome != Outcome::paid_off);
    CHECK(std::any_of(fit->findings.begin(), fit->findings.end(), [](const Finding& f) { return f.code == "few-pictures"; }));
}

TEST_CASE("the verdict goes by what was kept") {
    Random random(9);
    const InventedFilm film;
    const auto roll_at = [&](double stops, double rating) {
        Random same(21);
        RollSamples roll = empty_roll("T");
        roll.facts.box_speed = 400;
        roll.facts.rating = rating;
        roll.facts.years_past_expiry = 30;
        for (int i = 0; i < 4; ++i) roll.frames.push_back(expose(film, paint_scene(same, kWidth, kHeight), kWidth, kHeight, stops, random));
        return fit_roll(roll, {})->verdict;
    };
    CHECK(roll_at(0, 400).outcome == Outcome::at_box_speed);
    CHECK(roll_at(2, 100).outcome == Outcome::more_than_needed);
    CHECK(roll_at(-1.5, 100).outcome == Outcome::paid_off);
    CHECK(roll_at(-4, 100).outcome == Outcome::not_enough);
    const Verdict v = roll_at(2, 100);
    CHECK(v.rated_over->value() == Approx(2.0));
    CHECK(v.text.find("2.0 stops slower") != std::string::npos);

    // What is missing is named.
    Random same(21);
    RollSamples untold = empty_roll("T");
    for (int i = 0; i < 4; ++i) untold.frames.push_back(expose(film, paint_scene(same, kWidth, kHeight), kWidth, kHeight, 0, random));
    for (const auto& [box, rating, words] : {std::tuple{0.0, 0.0, "neither box speed nor rating is told"}, std::tuple{400.0, 0.0, "the rating is not told"},
                                             std::tuple{0.0, 200.0, "the box speed is not told"}}) {
        untold.facts.box_speed = box > 0 ? std::optional(box) : std::nullopt;
        untold.facts.rating = rating > 0 ? std::optional(rating) : std::nullopt;
        const Verdict open = fit_roll(untold, {})->verdict;
        CHECK(open.outcome == Outcome::cannot_tell);
        CHECK(open.text.find(words) != std::string::npos);
    }
}

TEST_CASE("same in, same out, and options are checked") {
    Random a(2), b(2);
    const auto one = fit_roll(draw_roll(InventedFilm{}, a, 3), {}), two = fit_roll(draw_roll(InventedFilm{}, b, 3), {});
    CHECK(one->model == two->model);
    CHECK(one->frames == two->frames);
    CHECK_FALSE(fit_roll(empty_roll("T"), {.shadow_sigma = 0}).has_value());
    CHECK_FALSE(fit_roll(empty_roll("T"), {.what_if_step = Stops(0)}).has_value());
    CHECK_FALSE(fit_roll(empty_roll("T"), {.what_if_range = Stops(std::numeric_limits<double>::quiet_NaN())}).has_value());
}

TEST_CASE("age widens the balance's uncertainty and moves nothing") {
    RollSamples fresh = empty_roll("T"), old = empty_roll("T");
    old.facts.years_past_expiry = 20;
    const auto a = fit_roll(fresh, {}), b = fit_roll(old, {});
    CHECK(a->model.balance == b->model.balance);
    CHECK(b->model.balance_std.r > a->model.balance_std.r);
    // Nothing told: wide along daylight-tungsten, so blue is the less certain.
    RollSamples untold = empty_roll("T");
    untold.facts.stock_balance.reset();
    const auto c = fit_roll(untold, {});
    // By how much, the slopes' own uncertainty says, which is in both.
    CHECK(c->model.balance_std.b > 1.1 * a->model.balance_std.b);
}
