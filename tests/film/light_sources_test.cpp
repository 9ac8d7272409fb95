// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/light_sources.h"
#include "film/constants.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

using namespace basefog;
using namespace basefog::film;

TEST_CASE("daylight against CIE tables") {
    // CIE standard illuminant D65, relative power at 420-470, 520-570, 610-660 nm by tens [CIE15 table T.1, from memory: 93.43 86.68 104.86
    // 117.01 117.81 114.86; 104.79 107.69 104.41 104.05 100.00 96.33; 89.60 87.70 83.29 83.70 80.03 80.21]; 1 % = rounding of a
    // temperature of 6504 K and of the table.
    const double blue = 93.43 + 86.68 + 104.86 + 117.01 + 117.81 + 114.86, green = 104.79 + 107.69 + 104.41 + 104.05 + 100.00 + 96.33,
                 red = 89.60 + 87.70 + 83.29 + 83.70 + 80.03 + 80.21;
    const Rgb<double> d65 = layer_light(Kelvin(6504));
    CHECK(d65.r == Approx(red / green).epsilon(0.01));
    CHECK(d65.b == Approx(blue / green).epsilon(0.01));
}

TEST_CASE("tungsten against CIE illuminant A") {
    // CIE standard illuminant A (2856 K) by tens [CIE15, from memory]: 20.99 24.67 28.70 33.09 37.81 42.87; 72.50 79.13 85.95 92.91
    // 100.00 107.18; 136.35 143.62 150.84 157.98 165.03 171.96. 0.5 %: A is defined with an older radiation constant.
    const double blue = 20.99 + 24.67 + 28.70 + 33.09 + 37.81 + 42.87, green = 72.50 + 79.13 + 85.95 + 92.91 + 100.00 + 107.18,
                 red = 136.35 + 143.62 + 150.84 + 157.98 + 165.03 + 171.96;
    const Rgb<double> a = layer_light(Kelvin(2856));
    CHECK(a.r == Approx(red / green).epsilon(0.005));
    CHECK(a.b == Approx(blue / green).epsilon(0.005));
}

TEST_CASE("a film in its own light has no offsets, and a filter can bring it there") {
    for (const double k : {2800.0, 3200.0, 5500.0, 7500.0}) {
        const auto own = layer_offsets(Kelvin(k), Kelvin(k), 0);
        CHECK(own.r.value() == Approx(0).margin(1e-12));
        CHECK(own.b.value() == Approx(0).margin(1e-12));
    }
    const auto bare = layer_offsets(Kelvin(3200), Kelvin(5500), 0);
    CHECK(bare.r.value() < -0.1);
    CHECK(bare.b.value() > 0.2);
    // Common practice: the filter for tungsten film in daylight shifts by 1e6 / 3200 - 1e6 / 5500 = 131 mired. Daylight is no thermal light, so a
    // remainder of some hundredths stays.
    const auto filtered = layer_offsets(Kelvin(3200), Kelvin(5500), 131);
    CHECK(std::abs(filtered.r.value()) < 0.04);
    CHECK(std::abs(filtered.b.value()) < 0.05);
}

TEST_CASE("hostile temperatures stay finite") {
    const double nan = std::numeric_limits<double>::quiet_NaN(), inf = std::numeric_limits<double>::infinity();
    for (const double k : {0.0, -5.0, 1e9, nan, inf})
        for (const double f : {0.0, 1e6, -1e6, nan}) {
            const auto o = layer_offsets(Kelvin(3200), Kelvin(k), f);
            CHECK(std::isfinite(o.r.value()));
            CHECK(std::isfinite(o.b.value()));
        }
}

TEST_CASE("shares and overlap are shares") {
    for (const Mix& m : {kNeutralShare, kLayerOverlap})
        for (const auto& row : m) CHECK(row[0] + row[1] + row[2] == Approx(1.0).margin(1e-12));
}
