// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/fast_math.h"
#include "basefog/core/wide.h"
#include "basefog/density/types.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace basefog {

namespace {

/// Least density reported: brighter than bare light by a stop is a reflection or a wrong field, not film.
constexpr double kLeastDensity = -0.3;

double ln_light(const std::array<double, LightField::kTerms>& k, double u, double v) {
    return k[0] + k[1] * u + k[2] * v + k[3] * u * u + k[4] * u * v + k[5] * v * v;
}

float density_of(double sample, double flare, double ln_bare) {
    const double light = sample - flare;
    if (!(light > 0)) return static_cast<float>(kMaxDensity);  // also NaN
    return static_cast<float>(std::clamp((ln_bare - std::log(light)) / std::numbers::ln10, kLeastDensity, kMaxDensity));
}

/// A field of exactly one all over is what an absent channel is given; no measured one is.
bool has_infrared(const std::array<std::array<double, LightField::kTerms>, 4>& k) { return k[3] != std::array<double, LightField::kTerms>{}; }

/// log10 of the bare light is c0 + c1 i + c2 i^2 here.
BASEFOG_WIDE void to_densities(float* samples, std::int64_t n, float flare, float c0, float c1, float c2) {
    constexpr auto kLeast = static_cast<float>(kLeastDensity), kMost = static_cast<float>(kMaxDensity), kLog2 = static_cast<float>(kLog10Of2);
    constexpr float kNoLight = 1e-30F;  // beyond any density that is told
    for (std::int64_t i = 0; i < n; ++i) {
        const float light = samples[i] - flare, at = static_cast<float>(static_cast<std::int32_t>(i));
        const float density = c0 + at * (c1 + at * c2) - kLog2 * fast_log2(light > kNoLight ? light : kNoLight);  // also NaN
        const float above = density > kLeast ? density : kLeast;
        samples[i] = above < kMost ? above : kMost;
    }
}

}  // namespace

LinearRgbi LightField::at(PointPx p) const {
    const double u = p.x / scan_width * 2 - 1, v = p.y / scan_height * 2 - 1;
    const auto light = [&](int c) { return static_cast<float>(std::exp(ln_light(coefficient[static_cast<std::size_t>(c)], u, v))); };
    return {light(0), light(1), light(2), has_infrared(coefficient) ? light(3) : 0.0F};
}

DensityRgbi LightField::density(LinearRgbi sample, PointPx p) const {
    const double u = p.x / scan_width * 2 - 1, v = p.y / scan_height * 2 - 1;
    DensityRgbi d;
    d.r = density_of(sample.r, flare.r, ln_light(coefficient[0], u, v));
    d.g = density_of(sample.g, flare.g, ln_light(coefficient[1], u, v));
    d.b = density_of(sample.b, flare.b, ln_light(coefficient[2], u, v));
    if (has_infrared(coefficient)) d.ir = density_of(sample.ir, flare.ir, ln_light(coefficient[3], u, v));
    return d;
}

void LightField::density_row(std::size_t channel, float* samples, std::int64_t n, PointPx first, PointPx step) const {
    if (channel == 3 && !has_infrared(coefficient)) return std::fill(samples, samples + n, 0.0F);
    const auto& k = coefficient[channel];
    const double u = first.x / scan_width * 2 - 1, v = first.y / scan_height * 2 - 1, du = step.x / scan_width * 2, dv = step.y / scan_height * 2;
    const double linear = k[1] * du + k[2] * dv + 2 * k[3] * u * du + k[4] * (u * dv + v * du) + 2 * k[5] * v * dv;
    const double square = k[3] * du * du + k[4] * du * dv + k[5] * dv * dv;
    const std::array<float, 4> flares{flare.r, flare.g, flare.b, flare.ir};
    to_densities(samples, n, flares[channel], static_cast<float>(ln_light(k, u, v) / std::numbers::ln10), static_cast<float>(linear / std::numbers::ln10),
                 static_cast<float>(square / std::numbers::ln10));
}

}  // namespace basefog
