// SPDX-License-Identifier: GPL-3.0-or-later
// Rolls in two lights: film by spectra and lamps by Planck's law (random_rolls.h), not by the library's own.
#include "film/random_rolls.h"

#include "basefog/film/fit_stock.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <cstdlib>
#include <string>

using namespace basefog;
using namespace basefog::test;

namespace {

using synthetic::SceneKind;

constexpr std::array<SceneKind, 6> kOutside{SceneKind::hills, SceneKind::coast, SceneKind::meadow, SceneKind::forest, SceneKind::houses, SceneKind::snow};
constexpr std::array<SceneKind, 5> kInside{SceneKind::room, SceneKind::still_life, SceneKind::portrait, SceneKind::crates, SceneKind::blocks};

/// One roll, some of its frames by lamps, in a row.
struct MixedRoll {
    SeenStock day, lamp;
    RollSamples roll;
    std::vector<char> by_lamp;
};

RollSamples told_roll(const SeenStock& film) {
    RollSamples roll;
    roll.facts.id = "M", roll.facts.stock = "s", roll.facts.session = "one", roll.facts.process = "C-41", roll.facts.own_process = "ECN-2";
    roll.facts.box_speed = 400, roll.facts.rating = 200;
    roll.facts.stock_balance = Kelvin(film.random.stock.balance_kelvin), roll.facts.light = Kelvin(film.light);
    for (int c = 0; c < 3; ++c) {
        roll.base[c] = {Density(film.base[static_cast<std::size_t>(c)]), Density(0.0005), 100, MeasureFlag::none};
        roll.spot_noise[c] = 0.0008;
    }
    return roll;
}

MixedRoll draw_mixed(std::uint64_t seed, int frames, int lamp_frames) {
    synthetic::Random random(synthetic::mix(seed, 0x7a3e));
    const double kelvin = 2700 + 500 * random.unit();
    MixedRoll out{SeenStock(seed, 5500), SeenStock(seed, kelvin), {}, {}};
    out.roll = told_roll(out.day);
    const int first = lamp_frames > 0 ? random.below(frames - lamp_frames + 1) : frames;
    for (int i = 0; i < frames; ++i) {
        const bool lamp = i >= first && i < first + lamp_frames;
        const SceneKind kind = lamp ? kInside[static_cast<std::size_t>(random.below(static_cast<int>(kInside.size())))]
                                    : kOutside[static_cast<std::size_t>(random.below(static_cast<int>(kOutside.size())))];
        const Shot shot{{kind, 1 + static_cast<std::uint64_t>(random.below(100000)), 0}, (lamp ? 0.3 : 1.0) + 0.3 * random.normal(), {}};
        out.roll.frames.push_back(shoot(lamp ? out.lamp : out.day, shot, random));
        out.roll.frames.back().number = i + 1;
        out.by_lamp.push_back(lamp ? 1 : 0);
    }
    return out;
}

/// Red - green and blue - green of a mid-grey in one light as the film, balanced for a frame, has it: 0 when right; the larger of both, log10 H.
double cast_of_grey(const SeenStock& film, const RollFilm& fit, const FrameExposure& frame) {
    const auto d = film.neutral(0.3);
    std::array<double, 3> h{};
    for (int l = 0; l < 3; ++l) {
        const auto& row = fit.model.dye_from_channel[static_cast<std::size_t>(l)];
        h[static_cast<std::size_t>(l)] =
            (fit.model.curves[l].exposure(Density(row[0] * d[0] + row[1] * d[1] + row[2] * d[2])) - fit.model.balance[l] - frame.light_shift[l]).value();
    }
    return std::max(std::abs(h[0] - h[1]), std::abs(h[2] - h[1]));
}

}  // namespace

TEST_CASE("frames by lamps on a roll in daylight are told apart and balanced by themselves") {
    const MixedRoll mixed = draw_mixed(7001, 10, 4);
    const auto fit = fit_stock({&mixed.roll, 1}, {});
    REQUIRE(fit.has_value());
    const RollFilm& film = fit->rolls[0];
    REQUIRE(film.other_lights.size() == 1);
    const OtherLight& light = film.other_lights[0];
    CHECK_FALSE(light.told.has_value());
    CHECK(light.probability > 0.8);
    CHECK(light.shift.r.value() > light.shift.g.value());
    CHECK(light.shift.b.value() < light.shift.g.value());
    for (std::size_t f = 0; f < mixed.by_lamp.size(); ++f) {
        CAPTURE(f);
        const bool apart = std::find(light.frames.begin(), light.frames.end(), static_cast<int>(f)) != light.frames.end();
        CHECK(apart == (mixed.by_lamp[f] != 0));
        CHECK((film.frames[f].light_shift != Rgb<LogExposure>{}) == apart);
        // Uncorrected, a lamp's grey is off by .2 in red and .3 in blue.
        CHECK(cast_of_grey(mixed.by_lamp[f] ? mixed.lamp : mixed.day, film, film.frames[f]) < 0.14);
    }
    const auto told = std::find_if(film.findings.begin(), film.findings.end(), [](const Finding& f) { return f.code == "mixed-light"; });
    REQUIRE(told != film.findings.end());
    CHECK(told->where.frame == light.frames.front());
    CHECK(told->message.find("warmer") != std::string::npos);
}

TEST_CASE("a light told for one frame holds for it, and the roll's own keeps a frame with the roll") {
    MixedRoll mixed = draw_mixed(7001, 10, 4);
    const auto first = static_cast<std::size_t>(std::find(mixed.by_lamp.begin(), mixed.by_lamp.end(), 1) - mixed.by_lamp.begin());
    for (std::size_t f = 0; f < mixed.by_lamp.size(); ++f)
        if (mixed.by_lamp[f]) mixed.roll.frames[f].note.light = f == first ? Kelvin(mixed.lamp.light) : *mixed.roll.facts.light;
    const auto fit = fit_stock({&mixed.roll, 1}, {});
    REQUIRE(fit.has_value());
    const RollFilm& film = fit->rolls[0];
    REQUIRE(film.other_lights.size() == 1);
    CHECK(film.other_lights[0].frames == std::vector<int>{static_cast<int>(first)});
    CHECK(film.other_lights[0].told == Kelvin(mixed.lamp.light));
    CHECK(cast_of_grey(mixed.lamp, film, film.frames[first]) < 0.14);
    CHECK(cast_of_grey(mixed.lamp, film, film.frames[first + 1]) > 0.15);  // kept in daylight, as told
    CHECK(std::none_of(film.findings.begin(), film.findings.end(), [](const Finding& f) { return f.code == "mixed-light"; }));
}

TEST_CASE("where the roll's light is not told, a frame's light says where a neutral lies in it, not how far from daylight") {
    MixedRoll mixed = draw_mixed(7001, 10, 4);
    mixed.roll.facts.light = {};
    for (std::size_t f = 0; f < mixed.by_lamp.size(); ++f)
        if (!mixed.by_lamp[f]) mixed.roll.frames[f].note.light = Kelvin(5500);
    const auto fit = fit_stock({&mixed.roll, 1}, {});
    REQUIRE(fit.has_value());
    const RollFilm& film = fit->rolls[0];
    REQUIRE(film.other_lights.size() >= 1);
    CHECK(film.other_lights[0].told == Kelvin(5500));
    for (std::size_t f = 0; f < mixed.by_lamp.size(); ++f) {
        CAPTURE(f);
        CHECK(cast_of_grey(mixed.by_lamp[f] ? mixed.lamp : mixed.day, film, film.frames[f]) < 0.2);
    }
    // All frames told to be in daylight, which they are: the shift is nearly nothing.
    MixedRoll day = draw_mixed(7002, 6, 0);
    day.roll.facts.light = {};
    for (FrameSamples& frame : day.roll.frames) frame.note.light = Kelvin(5500);
    const auto as_told = fit_stock({&day.roll, 1}, {});
    REQUIRE(as_told.has_value());
    CHECK(cast_of_grey(day.day, as_told->rolls[0], as_told->rolls[0].frames[0]) < 0.12);
}

TEST_CASE("two lights on a roll: how often they are told apart", "[.][slow]") {
    const char* wanted = std::getenv("BASEFOG_LIGHT_ROLLS");
    const std::uint64_t rolls = wanted != nullptr ? std::strtoull(wanted, nullptr, 10) : 40;
    for (const bool told : {true, false})
        for (const int lamps : {0, 3, 5}) {
            int found = 0, right = 0, wrong = 0, n_lamp = 0;
            double cast_with = 0, cast_own = 0;
            for (std::uint64_t seed = 1; seed <= rolls; ++seed) {
                MixedRoll mixed = draw_mixed(7000 + seed, 12, lamps);
                if (!told) mixed.roll.facts.light = {}, mixed.roll.facts.stock_balance = {};
                const auto fit = fit_stock({&mixed.roll, 1}, {});
                REQUIRE(fit.has_value());
                const RollFilm& film = fit->rolls[0];
                found += film.other_lights.empty() ? 0 : 1;
                for (std::size_t f = 0; f < mixed.by_lamp.size(); ++f) {
                    const bool apart = film.frames[f].light_shift != Rgb<LogExposure>{};
                    right += apart && mixed.by_lamp[f] ? 1 : 0, wrong += apart && !mixed.by_lamp[f] ? 1 : 0, n_lamp += mixed.by_lamp[f];
                    (mixed.by_lamp[f] ? cast_with : cast_own) += cast_of_grey(mixed.by_lamp[f] ? mixed.lamp : mixed.day, film, film.frames[f]);
                }
            }
            const std::string which = std::string(told ? "told" : "untold") + ", " + std::to_string(lamps) + " by lamps: ";
            WARN(which << "found on " << found << " of " << rolls);
            WARN(which << "frames right " << right << " of " << n_lamp << ", wrongly " << wrong);
            WARN(which << "mean cast by lamp " << cast_with / std::max(n_lamp, 1));
            WARN(which << "mean cast by day " << cast_own / static_cast<double>(12 * rolls - static_cast<std::uint64_t>(n_lamp)));
            if (lamps == 0) CHECK(found <= static_cast<int>(rolls) / 20);
            if (lamps == 5) CHECK(right >= n_lamp * 6 / 10);
        }
}
