// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/adx.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <utility>

namespace basefog::invert {
namespace {

struct Scale {
    double codes_per_density, at_minimum;
};
/// Defined [SMPTE2065-3]; decode as in the Academy's transforms ADX10_to_ACES and ADX16_to_ACES.
constexpr Scale scale_of(AdxBits bits) { return bits == AdxBits::ten ? Scale{500, 95} : Scale{8000, 1520}; }

/// Defined, same transforms. Rows: channel-independent density from channel-dependent.
constexpr std::array<std::array<double, 3>, 3> kIndependent{{{0.75573, 0.22197, 0.02230}, {0.05901, 0.96928, -0.02829}, {0.16134, 0.07406, 0.76460}}};
/// Rows: ACES red, green, blue from the exposures.
constexpr std::array<std::array<double, 3>, 3> kAces{{{0.72286, 0.12630, 0.15084}, {0.11923, 0.76418, 0.11659}, {0.01427, 0.08213, 0.90359}}};
/// Density to log10 relative exposure, linear between; above the last, a straight line.
constexpr std::array<std::pair<double, double>, 11> kExposure{{{-0.19, -6.0},
                                                               {0.01, -2.721718645},
                                                               {0.028, -2.521718645},
                                                               {0.054, -2.321718645},
                                                               {0.095, -2.121718645},
                                                               {0.145, -1.921718645},
                                                               {0.22, -1.721718645},
                                                               {0.30, -1.521718645},
                                                               {0.40, -1.321718645},
                                                               {0.50, -1.121718645},
                                                               {0.60, -0.926545676714876}}};
constexpr double kStraightSlope = 100.0 / 55, kGreyCode = 7120, kGrey = 0.18, kLeastLog = -10;

double log_exposure(double density) {
    if (density > kExposure.back().first) {
        static const double reference = (kGreyCode - 1520) / 8000 * kStraightSlope - std::log10(kGrey);
        return kStraightSlope * density - reference;
    }
    std::size_t i = 1;
    while (i + 1 < kExposure.size() && density > kExposure[i].first) ++i;
    const auto& [d0, h0] = kExposure[i - 1];
    const auto& [d1, h1] = kExposure[i];
    return std::max(kLeastLog, h0 + (density - d0) / (d1 - d0) * (h1 - h0));
}

}  // namespace

double adx_code(Density above_minimum, AdxBits bits) {
    const Scale s = scale_of(bits);
    return s.codes_per_density * above_minimum.value() + s.at_minimum;
}

Density adx_density(double code, AdxBits bits) {
    const Scale s = scale_of(bits);
    return Density((code - s.at_minimum) / s.codes_per_density);
}

SceneRgb aces_from_adx_density(const Rgb<Density>& above_minimum) {
    std::array<double, 3> light{}, aces{};
    for (std::size_t r = 0; r < 3; ++r) {
        double density = 0;
        for (int c = 0; c < 3; ++c) density += kIndependent[r][static_cast<std::size_t>(c)] * above_minimum[c].value();
        light[r] = std::pow(10, log_exposure(density));
    }
    for (std::size_t r = 0; r < 3; ++r)
        for (std::size_t c = 0; c < 3; ++c) aces[r] += kAces[r][c] * light[c];
    return {static_cast<float>(aces[0]), static_cast<float>(aces[1]), static_cast<float>(aces[2])};
}

}  // namespace basefog::invert
