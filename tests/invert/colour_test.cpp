// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/invert/colour.h"

#include <lcms2.h>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;

namespace {
struct Pair {
    Lab one, other;
    double difference;
};
// Sharma, Wu, Dalal: The CIEDE2000 color-difference formula, Color Research and Application 30(1), 21-30 (2005), table 1.
const Pair kPublished[] = {
    {{50, 2.6772, -79.7751}, {50, 0, -82.7485}, 2.0425},
    {{50, 3.1571, -77.2803}, {50, 0, -82.7485}, 2.8615},
    {{50, 2.8361, -74.0200}, {50, 0, -82.7485}, 3.4412},
    {{50, -1.3802, -84.2814}, {50, 0, -82.7485}, 1.0000},
    {{50, -1.1848, -84.8006}, {50, 0, -82.7485}, 1.0000},
    {{50, -0.9009, -85.5211}, {50, 0, -82.7485}, 1.0000},
    {{50, 0, 0}, {50, -1, 2}, 2.3669},
    {{50, -1, 2}, {50, 0, 0}, 2.3669},
    {{50, 2.49, -0.001}, {50, -2.49, 0.0009}, 7.1792},
    {{50, 2.49, -0.001}, {50, -2.49, 0.0010}, 7.1792},
    {{50, 2.49, -0.001}, {50, -2.49, 0.0011}, 7.2195},
    {{50, 2.49, -0.001}, {50, -2.49, 0.0012}, 7.2195},
    {{50, -0.001, 2.49}, {50, 0.0009, -2.49}, 4.8045},
    {{50, -0.001, 2.49}, {50, 0.0010, -2.49}, 4.8045},
    {{50, -0.001, 2.49}, {50, 0.0011, -2.49}, 4.7461},
    {{50, 2.5, 0}, {50, 0, -2.5}, 4.3065},
    {{50, 2.5, 0}, {73, 25, -18}, 27.1492},
    {{50, 2.5, 0}, {61, -5, 29}, 22.8977},
    {{50, 2.5, 0}, {56, -27, -3}, 31.9030},
    {{50, 2.5, 0}, {58, 24, 15}, 19.4535},
    {{50, 2.5, 0}, {50, 3.1736, 0.5854}, 1.0000},
    {{50, 2.5, 0}, {50, 3.2972, 0}, 1.0000},
    {{50, 2.5, 0}, {50, 1.8634, 0.5757}, 1.0000},
    {{50, 2.5, 0}, {50, 3.2592, 0.3350}, 1.0000},
    {{60.2574, -34.0099, 36.2677}, {60.4626, -34.1751, 39.4387}, 1.2644},
    {{63.0109, -31.0961, -5.8663}, {62.8187, -29.7946, -4.0864}, 1.2630},
    {{61.2901, 3.7196, -5.3901}, {61.4292, 2.2480, -4.9620}, 1.8731},
    {{35.0831, -44.1164, 3.7933}, {35.0232, -40.0716, 1.5901}, 1.8645},
    {{22.7233, 20.0904, -46.6940}, {23.0331, 14.9730, -42.5619}, 2.0373},
    {{36.4612, 47.8580, 18.3852}, {36.2715, 50.5065, 21.2231}, 1.4146},
    {{90.8027, -2.0831, 1.4410}, {91.1528, -1.6435, 0.0447}, 1.4441},
    {{90.9257, -0.5406, -0.9208}, {88.6381, -0.8985, -0.7239}, 1.5381},
    {{6.7747, -0.2908, -2.4247}, {5.8714, -0.0985, -2.2286}, 0.6377},
    {{2.0776, 0.0795, -1.1350}, {0.9033, -0.0636, -0.5514}, 0.9082},
};
}  // namespace

TEST_CASE("CIEDE2000 gives the 34 published differences") {
    // The paper prints four decimals: half a unit of the last is 5e-5.
    CHECK(std::size(kPublished) == 34);
    for (const Pair& pair : kPublished) {
        CAPTURE(pair.one.L, pair.one.a, pair.one.b, pair.other.L, pair.other.a, pair.other.b);
        CHECK(ciede2000(pair.one, pair.other) == Approx(pair.difference).margin(5.1e-5));
        CHECK(ciede2000(pair.other, pair.one) == Approx(pair.difference).margin(5.1e-5));
    }
    CHECK(ciede2000({50, 0, 0}, {50, 0, 0}) == 0);
}

TEST_CASE("sRGB has the standard's values and inverts itself") {
    // IEC 61966-2-1, computed from its constants by hand to nine digits.
    CHECK(srgb_encode(0.01) == Approx(0.099852823).margin(1e-9));
    CHECK(srgb_encode(0.18) == Approx(0.461356130).margin(1e-9));
    CHECK(srgb_encode(0.5) == Approx(0.735356983).margin(1e-9));
    CHECK(srgb_encode(0.0031308) == Approx(12.92 * 0.0031308).margin(1e-12));
    CHECK(srgb_encode(0) == 0);
    CHECK(srgb_encode(1) == Approx(1).margin(1e-12));
    CHECK(srgb_encode(-0.18) == -srgb_encode(0.18));
    // The standard's rounded constants leave a step of 4e-9 in light where the two branches meet.
    for (int code = 0; code <= 65535; code += 7) CHECK(srgb_encode(srgb_decode(code / 65535.0)) == Approx(code / 65535.0).margin(1e-7));
}

TEST_CASE("L*a*b* agrees with lcms2") {
    const cmsCIExyY white{0.3127, 0.3290, 1};
    cmsCIEXYZ white_xyz;
    cmsxyY2XYZ(&white_xyz, &white);
    // RGB to XYZ as IEC 61966-2-1 prints it, four decimals: 5e-5 in XYZ is at most 0.03 in a* and b*, apart from the darkest colours.
    const double m[3][3] = {{0.4124, 0.3576, 0.1805}, {0.2126, 0.7152, 0.0722}, {0.0193, 0.1192, 0.9505}};
    for (const SceneRgb rgb : {SceneRgb{1, 1, 1}, SceneRgb{0.18F, 0.18F, 0.18F}, SceneRgb{1, 0, 0}, SceneRgb{0, 1, 0}, SceneRgb{0, 0, 1},
                               SceneRgb{0.3F, 0.05F, 0.6F}, SceneRgb{0.004F, 0.002F, 0.003F}}) {
        const double in[3] = {rgb.r, rgb.g, rgb.b};
        double xyz[3];
        for (int i = 0; i < 3; ++i) xyz[i] = m[i][0] * in[0] + m[i][1] * in[1] + m[i][2] * in[2];
        const cmsCIEXYZ theirs{xyz[0], xyz[1], xyz[2]};
        cmsCIELab lab;
        cmsXYZ2Lab(&white_xyz, &lab, &theirs);
        const Lab ours = lab_from_linear_srgb(rgb);
        CAPTURE(rgb.r, rgb.g, rgb.b);
        CHECK(ours.L == Approx(lab.L).margin(0.01));
        CHECK(ours.a == Approx(lab.a).margin(0.06));
        CHECK(ours.b == Approx(lab.b).margin(0.06));
    }
    const Lab white_lab = lab_from_linear_srgb({1, 1, 1});
    CHECK(white_lab.L == Approx(100).margin(1e-9));
    CHECK(std::hypot(white_lab.a, white_lab.b) < 1e-9);
    // Secondary closed form: 18 % grey has L* = 116 * cbrt(0.18) - 16.
    CHECK(lab_from_linear_srgb({0.18F, 0.18F, 0.18F}).L == Approx(116 * std::cbrt(0.18) - 16).margin(1e-5));
}
