// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/density/types.h"

#include <algorithm>
#include <cmath>

namespace basefog {

namespace {

/// Least density reported: brighter than bare light by a stop is a reflection or a wrong field, not film.
constexpr double kLeastDensity = -0.3;
constexpr double kLn10 = 2.302585092994045684;

double ln_light(const std::array<double, LightField::kTerms>& k, double u, double v) {
    return k[0] + k[1] * u + k[2] * v + k[3] * u * u + k[4] * u * v + k[5] * v * v;
}

float density_of(double sample, double flare, double ln_bare) {
    const double light = sample - flare;
    if (!(light > 0)) return static_cast<float>(kMaxDensity);  // also NaN
    return static_cast<float>(std::clamp((ln_bare - std::log(light)) / kLn10, kLeastDensity, kMaxDensity));
}

/// A field of exactly one all over is what an absent channel is given; no measured one is.
bool has_infrared(const std::array<std::array<double, LightField::kTerms>, 4>& k) { return k[3] != std::array<double, LightField::kTerms>{}; }

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

}  // namespace basefog
