// SPDX-License-Identifier: GPL-3.0-or-later
// Photographed neutrals bend the curves until they are neutral, and no further.
#include "film/departure.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

using namespace basefog;
using namespace basefog::film;

namespace {

/// How far a film's layers leave the library's form: what a double-coated layer might do. log10 H, over the form's exposure.
double true_departure(int layer, double h) { return layer == 1 ? 0.0 : (layer == 0 ? 0.03 : -0.04) * std::sin(2.0 * h + 0.5 * layer); }

/// Neutrals as the form has them, from the truth.
std::vector<SeenNeutral> neutrals(double from, double step, int n) {
    std::vector<SeenNeutral> out;
    for (int i = 0; i < n; ++i) {
        const double h = from + step * i;
        SeenNeutral seen;
        for (int l = 0; l < 3; ++l) {
            // form + departure(form) = h
            double form = h;
            for (int k = 0; k < 50; ++k) form = h - true_departure(l, form);
            seen.exposure[static_cast<std::size_t>(l)] = form;
            seen.sigma[static_cast<std::size_t>(l)] = 0.006;
        }
        out.push_back(seen);
    }
    return out;
}

/// Worst difference of red or blue to green over the exposures.
double worst(const FilmModel& bent, double from, double to) {
    double most = 0;
    for (double h = from; h <= to; h += 0.02) {
        std::array<double, 3> read{};
        for (int l = 0; l < 3; ++l) {
            double form = h;
            for (int k = 0; k < 50; ++k) form = h - true_departure(l, form);
            LayerCurve plain = bent.curves[l];
            plain.departure.fill(0);
            read[static_cast<std::size_t>(l)] = bent.curves[l].exposure(plain.at(LogExposure(form))).value();
        }
        most = std::max({most, std::abs(read[0] - read[1]), std::abs(read[2] - read[1])});
    }
    return most;
}

}  // namespace

TEST_CASE("neutrals from a wedge make the whole scale neutral") {
    FilmModel model;
    const double before = worst(model, -0.7, 1.3);
    REQUIRE(before > 0.035);
    bend_to_neutrals(model, neutrals(-0.7, 0.15, 14));
    CHECK(worst(model, -0.7, 1.3) < before / 5);
    // Green, most of what is bright, stays nearly where it was: the scale of exposure is not touched.
    for (const double d : model.curves.g.departure) CHECK(std::abs(d) < 0.02);
}

TEST_CASE("too few neutrals and silver film bend nothing") {
    FilmModel model;
    bend_to_neutrals(model, neutrals(-0.5, 0.4, 3));
    CHECK(model == FilmModel{});
    model.silver = true;
    const FilmModel silver = model;
    bend_to_neutrals(model, neutrals(-0.7, 0.15, 14));
    CHECK(model == silver);
}

TEST_CASE("one odd patch does not bend a curve sharply") {
    FilmModel model;
    std::vector<SeenNeutral> seen;
    for (int i = 0; i < 6; ++i) seen.push_back({{-0.6 + 0.3 * i, -0.6 + 0.3 * i, -0.6 + 0.3 * i}, {}, {0.006, 0.006, 0.006}});
    seen[3].exposure[2] += 0.05;  // a stained patch
    bend_to_neutrals(model, seen);
    for (std::size_t i = 1; i < model.curves.b.departure.size(); ++i)
        CHECK(std::abs(model.curves.b.departure[i] - model.curves.b.departure[i - 1]) < LayerCurve::kNodeStep / 4);
}
