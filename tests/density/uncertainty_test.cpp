// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/density/measure_density.h"
#include "density/film_sheet.h"

#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;
using namespace film_sheet;

TEST_CASE("stated uncertainties of the base hold for about two thirds of random sheets") {
    // One sigma of a Gaussian covers 68 %; 60 to 76 % is the project's own bar for an honest statement.
    int inside = 0, total = 0;
    double squares = 0;
    for (std::uint64_t seed = 1; seed <= 40; ++seed) {
        Dice dice(seed);
        Sheet sheet;
        sheet.seed = seed;
        sheet.px_per_mm = 7;
        sheet.frames = 2;
        sheet.holder = dice.uniform() < 0.7;
        sheet.falloff = dice.uniform(0.0, 0.15);
        sheet.tilt = dice.uniform(-0.04, 0.04);
        sheet.glare = dice.uniform(0, 0.006);
        sheet.noise = dice.uniform(0.001, 0.006);
        sheet.slivers = dice.uniform() < 0.5;
        for (int k = 0; k < 2; ++k) {
            Strip strip;
            strip.film = dice.uniform() < 0.5 ? film_a() : film_b();
            for (double& b : strip.film.base) b += dice.uniform(0, 0.1);
            strip.evenness = dice.uniform(0, 0.003);
            strip.edge_marks = dice.uniform() < 0.5;
            strip.fogged_end_mm = dice.uniform() < 0.3 ? dice.uniform(5, 20) : 0;
            if (dice.uniform() < 0.4) strip.carbon = smears(dice.uniform(1, 10), sheet.frames, dice);
            sheet.strips.push_back(strip);
        }
        const Drawn drawn = draw(sheet);
        const auto d = measure_density(drawn.overview, drawn.layout, drawn.regions, {});
        REQUIRE(d.has_value());
        for (std::size_t i = 0; i < 2; ++i) {
            for (int c = 0; c < 3; ++c) {
                const double error = d->strips[i].base[c].value.value() - sheet.strips[i].film.base[static_cast<std::size_t>(c)];
                const double z = error / d->strips[i].base[c].std_uncertainty.value();
                inside += std::abs(z) < 1;
                squares += z * z;
                ++total;
            }
        }
    }
    const double share = 100.0 * inside / total;
    INFO("covered " << share << " %, rms z " << std::sqrt(squares / total));
    CHECK(share >= 60);
    CHECK(share <= 76);
}
