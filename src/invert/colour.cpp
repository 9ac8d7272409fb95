// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/invert/colour.h"

#include <array>
#include <cmath>
#include <numbers>

namespace basefog {
namespace {

// Defined [IEC61966-2-1]: chromaticities of sRGB and its white; the matrix is derived from them, to all digits.
struct Chromaticity {
    double x, y;
};
constexpr Chromaticity kRed{0.64, 0.33}, kGreen{0.30, 0.60}, kBlue{0.15, 0.06}, kWhite{0.3127, 0.3290};

using Triple = std::array<double, 3>;

constexpr Triple xyz(Chromaticity c) { return {c.x / c.y, 1, (1 - c.x - c.y) / c.y}; }
constexpr double determinant(const Triple& a, const Triple& b, const Triple& c) {
    return a[0] * (b[1] * c[2] - b[2] * c[1]) - b[0] * (a[1] * c[2] - a[2] * c[1]) + c[0] * (a[1] * b[2] - a[2] * b[1]);
}

/// Columns: XYZ of each primary at full light, so that they add up to the white with Y = 1 (Cramer's rule).
struct Primaries {
    Triple red, green, blue;
};
constexpr Primaries srgb_primaries() {
    const Triple r = xyz(kRed), g = xyz(kGreen), b = xyz(kBlue), w = xyz(kWhite);
    const double whole = determinant(r, g, b);
    const double sr = determinant(w, g, b) / whole, sg = determinant(r, w, b) / whole, sb = determinant(r, g, w) / whole;
    return {{r[0] * sr, r[1] * sr, r[2] * sr}, {g[0] * sg, g[1] * sg, g[2] * sg}, {b[0] * sb, b[1] * sb, b[2] * sb}};
}
constexpr Primaries kPrimaries = srgb_primaries();

/// CIE 1976 with the exact fractions [CIE15].
double lab_f(double t) { return t > 216.0 / 24389.0 ? std::cbrt(t) : t * (841.0 / 108.0) + 4.0 / 29.0; }

constexpr double kPi = std::numbers::pi;
double radians(double degrees) { return degrees * kPi / 180.0; }
/// 0..360; 0 where the chroma is none, as [Sharma2005] asks.
double hue_degrees(double b, double a) {
    if (a == 0 && b == 0) return 0;
    const double h = std::atan2(b, a) * 180.0 / kPi;
    return h < 0 ? h + 360 : h;
}

}  // namespace

double srgb_encode(double linear) {
    const double x = std::fabs(linear);
    const double code = x <= 0.0031308 ? 12.92 * x : 1.055 * std::pow(x, 1 / 2.4) - 0.055;
    return std::copysign(code, linear);
}

double srgb_decode(double code) {
    const double x = std::fabs(code);
    const double linear = x <= 0.04045 ? x / 12.92 : std::pow((x + 0.055) / 1.055, 2.4);
    return std::copysign(linear, code);
}

Lab lab_from_linear_srgb(SceneRgb rgb) {
    const Triple white = xyz(kWhite);
    Triple f{};
    for (int i = 0; i < 3; ++i) {
        const double value = kPrimaries.red[i] * double(rgb.r) + kPrimaries.green[i] * double(rgb.g) + kPrimaries.blue[i] * double(rgb.b);
        f[i] = lab_f(value / white[i]);
    }
    return {116 * f[1] - 16, 500 * (f[0] - f[1]), 200 * (f[1] - f[2])};
}

// The formula's names follow [Sharma2005], equations 2 to 22.
double ciede2000(Lab one, Lab other) {
    const double c_mean = (std::hypot(one.a, one.b) + std::hypot(other.a, other.b)) / 2;
    const double c7 = std::pow(c_mean, 7), k25_7 = std::pow(25.0, 7);
    const double g = 0.5 * (1 - std::sqrt(c7 / (c7 + k25_7)));
    const double a1 = (1 + g) * one.a, a2 = (1 + g) * other.a;
    const double c1 = std::hypot(a1, one.b), c2 = std::hypot(a2, other.b);
    const double h1 = hue_degrees(one.b, a1), h2 = hue_degrees(other.b, a2);

    double dh = 0, h_mean = h1 + h2;
    if (c1 * c2 != 0) {
        dh = h2 - h1;
        if (dh > 180) dh -= 360;
        if (dh < -180) dh += 360;
        if (std::fabs(h1 - h2) <= 180)
            h_mean = (h1 + h2) / 2;
        else
            h_mean = h1 + h2 < 360 ? (h1 + h2 + 360) / 2 : (h1 + h2 - 360) / 2;
    }
    const double d_l = other.L - one.L, d_c = c2 - c1, d_h = 2 * std::sqrt(c1 * c2) * std::sin(radians(dh) / 2);
    const double l_mean = (one.L + other.L) / 2, cp_mean = (c1 + c2) / 2;
    const double t = 1 - 0.17 * std::cos(radians(h_mean - 30)) + 0.24 * std::cos(radians(2 * h_mean)) + 0.32 * std::cos(radians(3 * h_mean + 6)) -
                     0.20 * std::cos(radians(4 * h_mean - 63));
    const double turn = 30 * std::exp(-std::pow((h_mean - 275) / 25, 2));
    const double cp7 = std::pow(cp_mean, 7);
    const double l50 = (l_mean - 50) * (l_mean - 50);
    const double s_l = 1 + 0.015 * l50 / std::sqrt(20 + l50), s_c = 1 + 0.045 * cp_mean, s_h = 1 + 0.015 * cp_mean * t;
    const double r_t = -std::sin(radians(2 * turn)) * 2 * std::sqrt(cp7 / (cp7 + k25_7));
    const double l = d_l / s_l, c = d_c / s_c, h = d_h / s_h;
    return std::sqrt(std::max(0.0, l * l + c * c + h * h + r_t * c * h));
}

}  // namespace basefog
