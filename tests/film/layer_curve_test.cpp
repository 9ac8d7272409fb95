// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/film/speed.h"
#include "basefog/film/types.h"
#include "film/inverse_table.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

using namespace basefog;

TEST_CASE("a layer's curve follows its closed form") {
    const LayerCurve c{.slope = 0.6, .toe = LogExposure(-1), .toe_width = 0.11, .shoulder = LogExposure(1.9), .shoulder_width = 0.28};
    // At the toe, softplus(0; w) = w ln 2; the shoulder is 10 widths away (4e-5 of its width is left).
    CHECK(c.at(LogExposure(-1)).value() == Approx(0.6 * 0.11 * std::log(2.0)).margin(1e-4));
    // Far up: everything the straight line can give.
    CHECK(c.at(LogExposure(50)).value() == Approx(0.6 * 2.9).epsilon(1e-9));
    CHECK(c.at(LogExposure(-50)).value() == Approx(0.0).margin(1e-12));
    // On the straight line the slope is the slope.
    CHECK((c.at(LogExposure(0.1)).value() - c.at(LogExposure(0.0)).value()) / 0.1 == Approx(0.6).epsilon(5e-3));
}

TEST_CASE("a curve rises everywhere and its inverse undoes it") {
    for (const double slope : {0.3, 0.6, 1.4})
        for (const double width : {0.02, 0.11, 0.4}) {
            const LayerCurve c{.slope = slope, .toe = LogExposure(-1.2), .toe_width = width, .shoulder = LogExposure(1.5), .shoulder_width = 0.3};
            double last = -1;
            for (double h = -1.2 - 5 * width; h < 2.5; h += 0.01) {
                const double d = c.at(LogExposure(h)).value();
                REQUIRE(d > last);
                last = d;
                REQUIRE(c.exposure(Density(d)).value() == Approx(h).margin(1e-6));
            }
        }
}

TEST_CASE("a curve that departs from its form stands for more exposure by so much and its inverse undoes it") {
    LayerCurve c{.slope = 0.6, .toe = LogExposure(-1), .shoulder = LogExposure(1.9)};
    const LayerCurve plain = c;
    for (std::size_t i = 0; i < c.departure.size(); ++i) c.departure[i] = 0.05 * std::sin(0.9 * static_cast<double>(i));
    // At a node, and half way between two.
    const auto node = [](std::size_t i) { return LayerCurve::kFirstNode + LayerCurve::kNodeStep * static_cast<double>(i); };
    const Density at_node = plain.at(LogExposure(node(6))), between = plain.at(LogExposure((node(6) + node(7)) / 2));
    CHECK(c.exposure(at_node).value() == Approx(node(6) + c.departure[6]).margin(1e-9));
    CHECK(c.exposure(between).value() == Approx((node(6) + node(7) + c.departure[6] + c.departure[7]) / 2).margin(1e-9));
    double last = -1;
    for (double h = -1.3; h < 2.5; h += 0.01) {
        const double d = c.at(LogExposure(h)).value();
        REQUIRE(d > last);
        last = d;
        REQUIRE(c.exposure(Density(d)).value() == Approx(h).margin(1e-6));
    }
    // Beyond the last node it is held.
    CHECK(c.at(LogExposure(4.0)).value() == Approx(plain.at(LogExposure(4.0 - c.departure.back())).value()).margin(1e-12));
}

TEST_CASE("hostile densities and curves give finite exposures") {
    const double inf = std::numeric_limits<double>::infinity(), nan = std::numeric_limits<double>::quiet_NaN();
    for (const LayerCurve& c : {LayerCurve{}, LayerCurve{.toe_width = 0, .shoulder_width = 0}, LayerCurve{.shoulder = LogExposure(-5)}})
        for (const double d : {0.0, -1.0, 99.0, inf, -inf, nan}) {
            CHECK(std::isfinite(c.exposure(Density(d)).value()));
            CHECK(std::isfinite(c.at(LogExposure(d)).value()));
        }
    CHECK(LayerCurve{}.exposure(Density(nan)).value() == LayerCurve{}.exposure(Density(-1)).value());
}

TEST_CASE("a published toe is met by the width used") {
    // Masked 400 colour negative, characteristic curve traced from data sheet TSC 0597-2 (2006), p. 11; red, log H and density. Stroke of
    // the tracing 0.02 D: tolerance 0.025.
    const LayerCurve red{.slope = 0.57, .toe = LogExposure(-2.68), .toe_width = 0.115, .shoulder = LogExposure(3), .shoulder_width = 0.28};
    for (const auto& [h, d] : {std::pair{-3.2, 0.227}, {-2.8, 0.249}, {-2.6, 0.298}, {-2.4, 0.390}, {-2.0, 0.608}, {-1.4, 0.940}})
        CHECK(red.at(LogExposure(h)).value() + 0.221 == Approx(d).margin(0.025));
}

TEST_CASE("tables agree with the curve") {
    const LayerCurve c{.slope = 0.55};
    const film::CurveTable table(c);
    for (double d = 0.001; d < 1.5; d += 0.013) CHECK(table.exposure(d) == Approx(c.exposure(Density(d)).value()).margin(d < 0.01 ? 2e-2 : 1e-3));
    for (double h = -2; h < 3; h += 0.037) CHECK(table.density(h) == Approx(c.at(LogExposure(h)).value()).margin(1e-4));
}

TEST_CASE("speed of a published colour negative") {
    // Masked 400 colour negative, data sheet TSC 0597-2 (2006), p. 11: first density and the points about 0.15 above it. The published
    // formula's worked value from the whole tracing is 399.6; the film is sold as ISO 400. 3 % = the tracing's stroke.
    const auto curve = [](std::initializer_list<std::pair<double, double>> points) {
        SensitometricCurve c;
        for (const auto& [h, d] : points) c.emplace_back(LogExposure(h), Density(d));
        return c;
    };
    const Rgb<SensitometricCurve> curves{curve({{-3.4, 0.221}, {-2.6, 0.298}, {-2.5, 0.341}, {-2.4, 0.390}}),
                                         curve({{-3.4, 0.647}, {-2.6, 0.734}, {-2.5, 0.778}, {-2.4, 0.830}}),
                                         curve({{-3.4, 0.868}, {-2.8, 0.939}, {-2.7, 0.984}, {-2.6, 1.039}})};
    const auto speed = iso5800_speed(curves);
    REQUIRE(speed.has_value());
    CHECK(*speed == Approx(399.6).epsilon(0.03));
    // Twice the exposure for everything is half the speed.
    Rgb<SensitometricCurve> slower = curves;
    for (int i = 0; i < 3; ++i)
        for (auto& [h, d] : slower[i]) h = h + LogExposure(kLog10Of2);
    CHECK(*iso5800_speed(slower) == Approx(*speed / 2));
    CHECK_FALSE(iso5800_speed({}).has_value());
    CHECK_FALSE(iso5800_speed({curves.r, curves.g, curve({{0, 0.1}, {1, 0.2}})}).has_value());
}

TEST_CASE("granularity by Selwyn's law") {
    // Counting grains: noise goes with 1 / sqrt(area). A 0.1 mm square is 5.526 apertures of 48 um, pi 24^2 um^2.
    CHECK(rms_granularity(0.002) == Approx(2 * std::sqrt(1e4 / (3.14159265 * 24 * 24))).epsilon(1e-6));
}
