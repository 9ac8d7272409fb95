// SPDX-License-Identifier: GPL-3.0-or-later
// Colours beyond the print: where they go, judged by other colour spaces than the one that takes them there.
#include "invert_world.h"

#include "basefog/invert/colour.h"
#include "invert/gamut.h"

#include <lcms2.h>
#include <catch2/catch.hpp>
#include <limits>
#include <numbers>
#include <vector>

using namespace basefog;
using namespace basefog::test;

namespace {

struct Colour {
    double r, g, b;
};
Colour fitted(const invert::Gamut& gamut, Colour in) {
    auto r = static_cast<float>(in.r), g = static_cast<float>(in.g), b = static_cast<float>(in.b);
    gamut.fit_row(&r, &g, &b, 1);
    return {double(r), double(g), double(b)};
}
/// Each channel cut off where it leaves 0..1: what keeping no hue does.
Colour cut(Colour in) { return {std::clamp(in.r, 0.0, 1.0), std::clamp(in.g, 0.0, 1.0), std::clamp(in.b, 0.0, 1.0)}; }

/// Hue by CIECAM02 [CIE159] as lcms2 computes it: D65, 64 cd/m2 white, grey surround, average.
class Appearance {
public:
    Appearance() {
        cmsViewingConditions view{};
        view.whitePoint = {95.047, 100, 108.883};
        view.Yb = 20;
        view.La = 64 / std::numbers::pi;
        view.surround = AVG_SURROUND;
        view.D_value = 1;
        model_ = cmsCIECAM02Init(nullptr, &view);
    }
    ~Appearance() { cmsCIECAM02Done(model_); }
    Appearance(const Appearance&) = delete;
    Appearance& operator=(const Appearance&) = delete;
    [[nodiscard]] cmsJCh of(Colour c) const {
        // XYZ from linear sRGB, IEC 61966-2-1 (four decimals as printed there).
        const cmsCIEXYZ xyz{100 * (0.4124 * c.r + 0.3576 * c.g + 0.1805 * c.b), 100 * (0.2126 * c.r + 0.7152 * c.g + 0.0722 * c.b),
                            100 * (0.0193 * c.r + 0.1192 * c.g + 0.9505 * c.b)};
        cmsJCh out{};
        cmsCIECAM02Forward(model_, &xyz, &out);
        return out;
    }

private:
    cmsHANDLE model_;
};

double turn(double from, double to) { return std::fabs(std::remainder(to - from, 360)); }

/// Saturated scene colours that real surfaces and lights have and sRGB has not: the edges of BT.2020 part of the way out, at several lights.
std::vector<Colour> beyond_srgb() {
    // Linear sRGB of the BT.2020 primaries and mixtures [BT2020]: published conversion matrix, ITU-R BT.2087, inverse of its 709 to 2020.
    const double m[3][3] = {{1.6605, -0.5876, -0.0728}, {-0.1246, 1.1329, -0.0083}, {-0.0182, -0.1006, 1.1187}};
    std::vector<Colour> all;
    for (double hue = 0; hue < 360; hue += 7.5)
        for (const double light : {0.05, 0.2, 0.5})
            for (const double way : {0.8, 0.9, 1.0}) {
                double wide[3];
                for (int i = 0; i < 3; ++i) {
                    const double wave = 0.5 + 0.5 * std::cos((hue - 120.0 * i) * std::numbers::pi / 180);
                    wide[i] = light * (1 - way * (1 - wave));
                }
                Colour c{};
                c.r = m[0][0] * wide[0] + m[0][1] * wide[1] + m[0][2] * wide[2];
                c.g = m[1][0] * wide[0] + m[1][1] * wide[1] + m[1][2] * wide[2];
                c.b = m[2][0] * wide[0] + m[2][1] * wide[1] + m[2][2] * wide[2];
                all.push_back(c);
            }
    return all;
}

}  // namespace

TEST_CASE("greys and moderate colours are left alone to the bit") {
    const invert::Gamut gamut;
    Random random(2);
    for (int i = 0; i < 2000; ++i) {
        const double grey = random();
        const auto near = [&] { return grey + 0.4 * (random() - 0.5) * std::min(grey, 1 - grey); };
        const Colour in{double(static_cast<float>(near())), double(static_cast<float>(near())), double(static_cast<float>(near()))};
        const Colour out = fitted(gamut, in);
        CHECK((out.r == in.r && out.g == in.g && out.b == in.b));
    }
}

TEST_CASE("whatever goes in, what comes out fits, and keeps hue and nearly lightness") {
    const invert::Gamut gamut;
    const Appearance eye;
    double worst = 0, sum = 0, by_clipping = 0, lightness = 0;
    const std::vector<Colour> all = beyond_srgb();
    int outside = 0;
    for (const Colour& in : all) {
        const Colour out = fitted(gamut, in);
        for (const double c : {out.r, out.g, out.b}) CHECK((c > -1e-5 && c < 1 + 1e-5));
        if (std::min({in.r, in.g, in.b}) >= 0 && std::max({in.r, in.g, in.b}) <= 1) continue;
        ++outside;
        const cmsJCh before = eye.of(in), after = eye.of(out);
        worst = std::max(worst, turn(before.h, after.h));
        sum += turn(before.h, after.h);
        by_clipping += turn(before.h, eye.of(cut(in)).h);
        lightness += std::fabs(before.J - after.J);
    }
    REQUIRE(outside > 60);
    CAPTURE(outside, worst, sum / outside, by_clipping / outside, lightness / outside);
    INFO("hue shift by CIECAM02: mean " << sum / outside << ", worst " << worst << " degrees; mean by cutting channels off " << by_clipping / outside);
    CHECK(sum / outside < by_clipping / outside);
    CHECK(sum / outside < 1.5);
    CHECK(worst < 5);
    CHECK(lightness / outside < 4);
}

TEST_CASE("no seam and no fold: along any way outwards colour moves smoothly, and never back") {
    const invert::Gamut gamut;
    Random random(6);
    double roughest = 0;
    for (int i = 0; i < 300; ++i) {
        const double grey = 0.02 + 0.9 * random();
        const Colour direction{random() - 0.5, random() - 0.5, random() - 0.5};
        const double across = 0.2126390 * direction.r + 0.7151687 * direction.g + 0.0721923 * direction.b;
        const auto at = [&](double s) {
            return fitted(gamut, {grey + s * (direction.r - across), grey + s * (direction.g - across), grey + s * (direction.b - across)});
        };
        constexpr double kStep = 0.002;
        Colour before = at(0), now = at(kStep);
        // As far as twice the way to the surface: beyond it lies no colour a surface or light has.
        const Colour d{direction.r - across, direction.g - across, direction.b - across};
        double surface = 1e9;
        for (const double c : {d.r, d.g, d.b}) surface = std::min(surface, c < 0 ? grey / -c : (1 - grey) / c);
        for (double s = 2 * kStep; s < 2 * surface; s += kStep) {
            const Colour next = at(s);
            // A seam shows as a jump, a kink as a bend: second differences of steps of at most 0.0018 in a channel.
            for (const auto& [a, b, c] : {std::tuple{before.r, now.r, next.r}, {before.g, now.g, next.g}, {before.b, now.b, next.b}})
                roughest = std::max(roughest, std::fabs(a - 2 * b + c));
            const auto chroma = [](Colour c) { return std::max({c.r, c.g, c.b}) - std::min({c.r, c.g, c.b}); };
            CHECK(chroma(next) > chroma(now) - 1e-6);
            before = now;
            now = next;
        }
    }
    CAPTURE(roughest);
    CHECK(roughest < 1e-3);
}

TEST_CASE("a wider print holds more") {
    // BT.2020 from BT.709, ITU-R BT.2087.
    const invert::Gamut srgb, wide({{{0.6274, 0.3293, 0.0433}, {0.0691, 0.9195, 0.0114}, {0.0164, 0.0880, 0.8956}}});
    const Colour in{0.35, 0.15, 0.015};
    const Colour narrow = fitted(srgb, in), broad = fitted(wide, in);
    CHECK(broad.r == Approx(in.r).margin(1e-6));
    CHECK(narrow.r < in.r);
}

TEST_CASE("hostile colours stay finite") {
    const invert::Gamut gamut;
    for (const double x : {-1e9, -1.0, 0.0, 0.5, 1.0, 7.0, 1e9})
        for (const double y : {-1e9, -1.0, 0.0, 0.5, 1.0, 7.0, 1e9}) {
            const Colour out = fitted(gamut, {x, y, 0.3});
            CHECK(std::isfinite(out.r + out.g + out.b));
        }
    const Colour black = fitted(gamut, {0, 0, 0}), white = fitted(gamut, {1, 1, 1});
    CHECK(black.g == 0);
    CHECK(white.g == 1);
    gamut.fit_row(nullptr, nullptr, nullptr, 0);
    float nan = std::numeric_limits<float>::quiet_NaN(), g = 0.2F, b = 0.9F;
    gamut.fit_row(&nan, &g, &b, 1);
}
