// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert_world.h"

#include "basefog/invert/colour.h"

#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;
using namespace basefog::test;

namespace {
double grey(const Inverter& inverter, double light) {
    const auto l = static_cast<float>(light);
    const SceneRgb out = inverter.display({l, l, l});
    CHECK(out.r == out.g);
    CHECK(out.g == out.b);
    return out.g;
}
}  // namespace

TEST_CASE("tone keeps mid-grey, rises everywhere and stays under 1") {
    for (const double contrast : {0.7, 1.0, 1.6}) {
        InvertOptions options;
        options.contrast = contrast;
        const Inverter inverter = FilmWorld().inverter(options);
        CHECK(grey(inverter, 0.18) == Approx(0.18).epsilon(1e-6));
        double before = -1;
        for (double light = 1e-4; light < 30; light *= 1.02) {
            const double now = grey(inverter, light);
            CHECK((now > before || now > 0.99999));  // beyond, float has no room between neighbours
            CHECK(now >= before);
            CHECK(now <= 1);
            before = now;
        }
        CHECK(grey(inverter, 0) == 0);
    }
}

TEST_CASE("contrast is the slope at mid-grey") {
    for (const double contrast : {0.8, 1.0, 1.4}) {
        InvertOptions options;
        options.contrast = contrast;
        const Inverter inverter = FilmWorld().inverter(options);
        const double slope = std::log(grey(inverter, 0.18 * 1.05) / grey(inverter, 0.18 / 1.05)) / std::log(1.05 * 1.05);
        CHECK(slope == Approx(contrast).epsilon(0.015));  // the toe adds 0.8 % of slope at mid-grey
    }
}

TEST_CASE("the exposure option counts stops from mid-grey") {
    InvertOptions options;
    options.exposure = Stops(1);
    CHECK(grey(FilmWorld().inverter(options), 0.09) == Approx(0.18).epsilon(1e-6));
    options.exposure = Stops(-2);
    CHECK(grey(FilmWorld().inverter(options), 0.72) == Approx(0.18).epsilon(1e-6));
}

TEST_CASE("the default rendering stays close to the scene") {
    const Inverter inverter = FilmWorld().inverter();
    // From L* 20 (light 0.03) to the knee (0.5) lightness moves by less than half a unit; white lands on good paper.
    for (const double light : {0.03, 0.06, 0.12, 0.25, 0.5}) {
        const auto l = static_cast<float>(light), d = static_cast<float>(grey(inverter, light));
        CHECK(std::fabs(lab_from_linear_srgb({d, d, d}).L - lab_from_linear_srgb({l, l, l}).L) < 0.5);
    }
    CHECK(grey(inverter, 1) == Approx(0.855).margin(0.005));
    CHECK(grey(inverter, 4) > 0.985);
}

TEST_CASE("highlights keep their hue and go gently to white") {
    const Inverter inverter = FilmWorld().inverter();
    const SceneRgb sunset{1.0F, 0.5F, 0.2F};
    double saturation_before = 1;
    for (const float k : {0.3F, 1.0F, 2.0F, 4.0F, 8.0F, 30.0F}) {
        const SceneRgb out = inverter.display({sunset.r * k, sunset.g * k, sunset.b * k});
        CHECK(out.r <= 1);
        // Hue as the place of the middle channel between the others: unchanged by scaling and by adding white.
        CHECK((out.g - out.b) / (out.r - out.b) == Approx((sunset.g - sunset.b) / (sunset.r - sunset.b)).epsilon(1e-4));
        const double saturation = (out.r - out.b) / out.r;
        CHECK(saturation <= saturation_before + 1e-6);
        saturation_before = saturation;
    }
    CHECK(saturation_before < 0.2);
}

TEST_CASE("saturation 0 is grey of the same luminance, and more never turns the hue") {
    InvertOptions options;
    options.saturation = 0;
    const SceneRgb colour{0.3F, 0.1F, 0.05F};
    const SceneRgb grey_out = FilmWorld().inverter(options).display(colour), plain = FilmWorld().inverter().display(colour);
    CHECK(grey_out.r == Approx(grey_out.b).epsilon(1e-6));
    CHECK(grey_out.g == Approx(0.2126390 * plain.r + 0.7151687 * plain.g + 0.0721923 * plain.b).epsilon(1e-5));
    options.saturation = 1.5;
    const SceneRgb more = FilmWorld().inverter(options).display(colour);
    CHECK((more.g - more.b) / (more.r - more.b) == Approx((plain.g - plain.b) / (plain.r - plain.b)).epsilon(1e-4));
}

TEST_CASE("options out of range are refused") {
    InvertOptions options;
    CHECK(validate(options));
    options.contrast = std::nan("");
    CHECK_FALSE(validate(options));
    options = {};
    options.output = OutputSpace::profile_file;
    CHECK(validate(options).error().code == ErrorCode::usage);
    options = {};
    options.proof_quality = 0;
    CHECK_FALSE(validate(options));
}
