// SPDX-License-Identifier: GPL-3.0-or-later
// Are the stated uncertainties true? Random stocks on random scanners, drawn by spectra and curves of their own.
#include "basefog/film/fit_stock.h"
#include "film/random_rolls.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <cstdlib>
#include <map>
#include <string>

using namespace basefog;
using namespace basefog::test;

namespace {

/// How often an error lies within its stated sigma.
struct Tally {
    int n = 0, within = 0;
    double squares = 0, scaled = 0;
    void add(double error, double sigma) {
        ++n;
        within += std::abs(error) < sigma ? 1 : 0;
        squares += error * error;
        scaled += error * error / (sigma * sigma);
    }
    [[nodiscard]] double share() const { return static_cast<double>(within) / n; }
};
using Tallies = std::map<std::string, Tally>;

void tally_slopes(const RollPair& pair, const StockFilm& fit, Tallies& out) {
    const auto truth = pair.film.slopes();
    double common = 0;
    for (std::size_t c = 0; c < 3; ++c) common += std::log(fit.rolls[0].model.slope[static_cast<int>(c)].value / truth[c]) / 3;
    out["common slope"].add(common, fit.rolls[0].model.common_slope_std);
    for (const RollComparison& r : fit.comparison->rolls) {
        if (r.roll != "A") continue;
        out["slope ratios"].add(r.red_to_green.value - truth[0] / truth[1], r.red_to_green.std_uncertainty);
        out["slope ratios"].add(r.blue_to_green.value - truth[2] / truth[1], r.blue_to_green.std_uncertainty);
    }
}

void tally_balance(const RollPair& pair, const StockFilm& fit, Tallies& out) {
    const FilmModel& m = fit.rolls[0].model;
    const auto d = pair.film.neutral(0);
    std::array<double, 3> h{};
    for (int l = 0; l < 3; ++l) {
        const auto& row = m.dye_from_channel[static_cast<std::size_t>(l)];
        h[static_cast<std::size_t>(l)] = m.curves[l].exposure(Density(row[0] * d[0] + row[1] * d[1] + row[2] * d[2])).value() - m.balance[l].value();
    }
    out["balance"].add(h[0] - h[1], m.balance_std.r);
    out["balance"].add(h[2] - h[1], m.balance_std.b);
}

void tally_exposures(const RollPair& pair, const StockFilm& fit, Tallies& out) {
    struct Placed {
        const Shot* shot;
        const FrameExposure* found;
        std::size_t roll;
    };
    std::vector<Placed> all;
    for (std::size_t r = 0; r < 2; ++r)
        for (std::size_t f = 0; f < pair.shots[r].size(); ++f) all.push_back({&pair.shots[r][f], &fit.rolls[r].frames[f], r});
    for (std::size_t i = 0; i < all.size(); ++i)
        for (std::size_t j = 0; j < i; ++j) {
            if (all[i].shot->scene.kind != all[j].shot->scene.kind || all[i].shot->scene.seed != all[j].shot->scene.seed) continue;
            const double truth = all[i].shot->stops - all[j].shot->stops, found = (all[i].found->offset.value - all[j].found->offset.value).value();
            const double slope = fit.rolls[all[i].roll].model.common_slope_std * truth;
            const double reading = std::hypot(all[i].found->reading_std.value(), all[j].found->reading_std.value());
            const double between = all[i].roll == all[j].roll ? 0.0 : 2 * fit.rolls[0].speed.loss.std_uncertainty.value();
            out["exposure differences"].add(found - truth, std::hypot(std::hypot(slope, reading), between));
        }
}

Tallies tally(std::uint64_t first, std::uint64_t last) {
    Tallies out;
    for (std::uint64_t seed = first; seed < last; ++seed) {
        const RollPair pair = draw_pair(seed);
        const auto fit = fit_stock(pair.rolls, {});
        REQUIRE(fit.has_value());
        tally_slopes(pair, *fit, out);
        tally_balance(pair, *fit, out);
        tally_exposures(pair, *fit, out);
    }
    return out;
}

}  // namespace

TEST_CASE("random stocks: errors stay within a few of their stated sigmas") {
    for (const auto& [name, t] : tally(1000, 1006)) {
        CAPTURE(name, t.n, t.within, std::sqrt(t.squares / t.n));
        // Root mean square of error over sigma: 1 when they are true; six stocks scatter by a third, and a sigma too small by half is seen.
        CHECK(std::sqrt(t.scaled / t.n) < 2.0);
    }
}

TEST_CASE("random stocks: stated uncertainties cover two thirds", "[.][slow]") {
    const auto number = [](const char* name, std::uint64_t otherwise) {
        const char* wanted = std::getenv(name);
        return wanted != nullptr ? std::strtoull(wanted, nullptr, 10) : otherwise;
    };
    const std::uint64_t first = number("BASEFOG_COVERAGE_FIRST", 3000), seeds = number("BASEFOG_COVERAGE_SEEDS", 120);
    for (const auto& [name, t] : tally(first, first + seeds)) {
        WARN(name << ": n " << t.n << ", within one sigma " << 100 * t.share() << " %, rms " << std::sqrt(t.squares / t.n) << ", rms of error over sigma "
                  << std::sqrt(t.scaled / t.n));
        CHECK(t.share() > 0.60);
        CHECK(t.share() < 0.76);
    }
}
