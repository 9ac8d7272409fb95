// SPDX-License-Identifier: GPL-3.0-or-later
// Stands in for the film room's curve until it is linked: the formula of film/types.h, inverted by bisection.
#include "basefog/film/types.h"

#include <cmath>

namespace basefog {
namespace {
double softplus(double x, double w) { return x > 30 * w ? x : w * std::log1p(std::exp(x / w)); }
}  // namespace

Density LayerCurve::at(LogExposure h) const {
    return Density(slope * (softplus(h.value() - toe.value(), toe_width) - softplus(h.value() - shoulder.value(), shoulder_width)));
}

LogExposure LayerCurve::exposure(Density above_fog) const {
    double low = toe.value() - 1, high = shoulder.value() + 1;
    for (int i = 0; i < 50; ++i) {
        const double middle = (low + high) / 2;
        (at(LogExposure(middle)) < above_fog ? low : high) = middle;
    }
    return LogExposure((low + high) / 2);
}

}  // namespace basefog
