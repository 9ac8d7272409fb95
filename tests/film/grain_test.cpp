// SPDX-License-Identifier: GPL-3.0-or-later
// Granularity by its definition: the RMS of densities read through a round aperture of 48 um [ISO10505, from memory] on an even area.
#include "film/grain.h"

#include "basefog/film/speed.h"
#include "film/invented_roll.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <vector>

using namespace basefog;
using namespace basefog::test;

namespace {

double rms(const std::vector<double>& values) {
    double mean = 0, squares = 0;
    for (const double v : values) mean += v / static_cast<double>(values.size());
    for (const double v : values) squares += (v - mean) * (v - mean);
    return std::sqrt(squares / static_cast<double>(values.size() - 1));
}

FrameSamples even_frame(double density, double noise, Random& random) {
    FrameSamples frame;
    frame.above_base = Image<DensityRgbi>(360, 240);
    for (std::int64_t y = 0; y < 240; ++y)
        for (std::int64_t x = 0; x < 360; ++x) {
            DensityRgbi& d = frame.above_base(x, y);
            d.r = static_cast<float>(density + noise * random.normal());
            d.g = static_cast<float>(density + 1.5 * noise * random.normal());
            d.b = static_cast<float>(density + 2.0 * noise * random.normal());
        }
    return frame;
}

}  // namespace

TEST_CASE("Selwyn noise read through both apertures") {
    // Grain without any order, on a lattice of 4 um: what a 0.1 mm square and a 48 um circle see of it are averages over 25 x 25 and 113 lattice points.
    constexpr int kSide = 1500, kSquare = 25, kCircle = 12;
    Random random(4);
    std::vector<double> film(static_cast<std::size_t>(kSide) * kSide);
    for (double& d : film) d = 0.8 + 0.05 * random.normal();
    const auto at = [&](int x, int y) { return film[static_cast<std::size_t>(y) * kSide + static_cast<std::size_t>(x)]; };
    std::vector<double> squares, circles;
    for (int y0 = 0; y0 + kSquare <= kSide; y0 += kSquare)
        for (int x0 = 0; x0 + kSquare <= kSide; x0 += kSquare) {
            double square = 0, circle = 0;
            int in_circle = 0;
            for (int y = 0; y < kSquare; ++y)
                for (int x = 0; x < kSquare; ++x) {
                    square += at(x0 + x, y0 + y);
                    if (std::hypot(x - kSquare / 2.0 + 0.5, y - kSquare / 2.0 + 0.5) > kCircle / 2.0) continue;
                    circle += at(x0 + x, y0 + y), ++in_circle;
                }
            squares.push_back(square / (kSquare * kSquare));
            circles.push_back(circle / in_circle);
        }
    // 3,600 readings: the RMS scatters by 1.2 %, the lattice's circle is 1 % off in area.
    CHECK(rms_granularity(rms(squares)) == Approx(1000 * rms(circles)).epsilon(0.05));
}

TEST_CASE("grain is measured from even areas, each channel for itself") {
    Random random(5);
    RollSamples roll = empty_roll("T");
    for (const double density : {0.375, 0.975}) roll.frames.push_back(even_frame(density, density < 0.5 ? 0.002 : 0.004, random));
    const auto grain = film::measure_grain(roll);
    REQUIRE(grain.size() == 3);
    CHECK(grain[0].spot_noise.r == Approx(roll.spot_noise.r));  // the base's own
    for (std::size_t i = 1; i < 3; ++i) {
        const double noise = i == 1 ? 0.002 : 0.004;
        // The flattest blocks are sought, and what that takes off in pictures is put back. On a frame that is even all over the lowest of many alike are
        // picked by chance and more is taken off: a seventh too low here.
        constexpr double kPicked = 0.16;
        CHECK(grain[i].density.g == Approx(i == 1 ? 0.375 : 0.975).margin(0.01));
        CHECK(grain[i].spot_noise.r == Approx(noise).epsilon(kPicked));
        CHECK(grain[i].spot_noise.g == Approx(1.5 * noise).epsilon(kPicked));
        CHECK(grain[i].spot_noise.b == Approx(2.0 * noise).epsilon(kPicked));
        for (int c = 0; c < 3; ++c) CHECK(grain[i].granularity[c] == Approx(rms_granularity(grain[i].spot_noise[c])));
    }
}
