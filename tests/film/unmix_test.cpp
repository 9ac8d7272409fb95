// SPDX-License-Identifier: GPL-3.0-or-later
// Which layer is behind which channel, told from pictures whose colours are as photographs' are on average.
#include "film/unmix.h"

#include "support/synthetic_random.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <utility>

using namespace basefog;
using namespace basefog::film;

namespace {

constexpr std::int64_t kAcross = 180, kDown = 120, kCell = 3;

Rgb<LayerCurve> curves() {
    Rgb<LayerCurve> out;
    out.r.slope = 0.50, out.g.slope = 0.58, out.b.slope = 0.62;
    return out;
}

struct Drawn {
    Picture picture;
    LayerPicture layers;
};
/// Cells of even colour, drawn independently of each other, so that neighbours differ by sqrt 2 times their own spread. `colour` scales that.
Drawn draw(const Mix& share, double colour, synthetic::Random& random) {
    constexpr double kLight = 0.12;  // spread of luminance, log10 H
    const double red = colour * kLight * std::exp(kEdgeColour[0]), blue = colour * kLight * std::exp(kEdgeColour[1]), together = std::tanh(kEdgeColour[2]);
    Drawn out;
    out.picture.width = out.layers.width = kAcross;
    out.picture.height = out.layers.height = kDown;
    const auto spots = static_cast<std::size_t>(kAcross * kDown);
    out.picture.density.resize(spots), out.layers.exposure.resize(spots);
    out.picture.usable.assign(spots, 1), out.layers.usable.assign(spots, 1);
    for (std::int64_t cy = 0; cy < kDown / kCell; ++cy)
        for (std::int64_t cx = 0; cx < kAcross / kCell; ++cx) {
            const double z = random.normal(), u = red * z, v = blue * (together * z + std::sqrt(1 - together * together) * random.normal());
            const double green = kLight * random.normal() - 0.25 * (u + v);
            const Triple above_toe{1.2 + green + u, 1.2 + green, 1.2 + green + v};
            Triple density{};
            for (std::size_t c = 0; c < 3; ++c)
                for (std::size_t l = 0; l < 3; ++l) density[c] += curves()[static_cast<int>(c)].slope * share[c][l] * above_toe[l];
            for (std::int64_t dy = 0; dy < kCell; ++dy)
                for (std::int64_t dx = 0; dx < kCell; ++dx) {
                    const std::size_t i = out.picture.at(kCell * cx + dx, kCell * cy + dy);
                    out.picture.density[i] = density;
                    for (std::size_t l = 0; l < 3; ++l) out.layers.exposure[i][l] = kToe + above_toe[l];
                }
        }
    return out;
}

ShareFit fit_drawn(const Mix& share, double colour, int pictures, std::uint64_t seed, const SharePrior& prior = {}) {
    synthetic::Random random(seed);
    std::vector<Picture> seen;
    std::vector<LayerPicture> layers;
    for (int i = 0; i < pictures; ++i) {
        Drawn drawn = draw(share, colour, random);
        seen.push_back(std::move(drawn.picture));
        layers.push_back(std::move(drawn.layers));
    }
    return fit_share(seen, layers, std::vector<double>(seen.size(), 1.0), {curves()}, prior);
}

double apart(const Mix& a, const Mix& b) {
    double sum = 0;
    for (std::size_t c = 0; c < 3; ++c)
        for (std::size_t l = 0; l < 3; ++l) sum += (a[c][l] - b[c][l]) * (a[c][l] - b[c][l]);
    return std::sqrt(sum);
}

}  // namespace

TEST_CASE("pictures as colourful as photographs are on average say what is assumed") {
    const ShareFit fit = fit_drawn(kNeutralShare, 1, 12, 1);
    CHECK(fit.n_votes == 12);
    CHECK(apart(fit.share, kNeutralShare) < 0.02);
}

TEST_CASE("a scanner whose bands see more or less of other layers is told from the pictures, row by row") {
    const Mix red_mixes{{{0.50, 0.49, 0.01}, {0.11, 0.73, 0.16}, {0.03, 0.155, 0.815}}};
    const Mix blue_mixes{{{0.72, 0.27, 0.01}, {0.11, 0.73, 0.16}, {0.08, 0.32, 0.60}}};
    const Mix all_mix{{{0.60, 0.38, 0.02}, {0.22, 0.56, 0.22}, {0.06, 0.25, 0.69}}};
    const Mix narrow{{{0.85, 0.14, 0.01}, {0.04, 0.86, 0.10}, {0.00, 0.07, 0.93}}};
    for (const Mix& truth : {red_mixes, blue_mixes, all_mix, narrow}) {
        const ShareFit fit = fit_drawn(truth, 1, 24, 7);
        INFO(fit.share[0][1] << ' ' << fit.share[1][0] << ' ' << fit.share[1][2] << ' ' << fit.share[2][0] << ' ' << fit.share[2][1]);
        CHECK(apart(fit.share, truth) < 0.75 * apart(kNeutralShare, truth));
        for (const auto& row : fit.share) CHECK(row[0] + row[1] + row[2] == Approx(1.0).margin(1e-12));
    }
    CHECK(fit_drawn(red_mixes, 1, 24, 7).share[0][1] > fit_drawn(blue_mixes, 1, 24, 7).share[0][1] + 0.05);
    CHECK(fit_drawn(red_mixes, 1, 24, 7).share[2][1] < fit_drawn(blue_mixes, 1, 24, 7).share[2][1] - 0.05);
}

TEST_CASE("a camera's own channels are taken for broad before pictures are asked") {
    const SharePrior scanner = assume_share(false), camera = assume_share(true);
    CHECK(scanner.mean == kNeutralShare);
    for (const auto& row : camera.mean) CHECK(row[0] + row[1] + row[2] == Approx(1.0).margin(1e-12));
    // Shares of the neutral in a camera whose channels are described by spectra (tests/support), not by what the library assumes.
    const Mix stand{{{0.58, 0.39, 0.03}, {0.15, 0.67, 0.18}, {0.06, 0.26, 0.68}}};
    for (const int pictures : {1, 3, 12}) {
        const double by_scanner = apart(fit_drawn(stand, 1, pictures, 3).share, stand), by_camera = apart(fit_drawn(stand, 1, pictures, 3, camera).share, stand);
        CAPTURE(pictures, by_scanner, by_camera);
        CHECK(by_camera < (pictures <= 3 ? 0.85 : 0.95) * by_scanner);  // the more pictures, the less matters what was assumed
    }
    CHECK(fit_drawn(stand, 0.02, 6, 3, camera).share == camera.mean);
}

TEST_CASE("few pictures move the mixing less than many, and grey ones not at all") {
    const Mix truth{{{0.60, 0.38, 0.02}, {0.22, 0.56, 0.22}, {0.06, 0.25, 0.69}}};
    CHECK(apart(fit_drawn(truth, 1, 1, 3).share, kNeutralShare) < apart(fit_drawn(truth, 1, 24, 3).share, kNeutralShare));
    const ShareFit grey = fit_drawn(truth, 0.02, 6, 3);
    CHECK(grey.n_votes == 0);
    CHECK(grey.share == kNeutralShare);
}

TEST_CASE("pictures without any colour film's colours still leave a mixing that can be undone") {
    for (const double colour : {0.2, 6.0}) {
        const ShareFit fit = fit_drawn(kNeutralShare, colour, 24, 5);
        for (std::size_t c = 0; c < 3; ++c) CHECK(fit.share[c][c] >= 0.35);
        for (const auto& row : inverse(fit.share))
            for (const double v : row) CHECK(std::isfinite(v));
    }
}
