// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/falloff.h"

#include <cmath>

namespace basefog {

std::array<double, 4> ShotFalloff::terms(PointPx p, std::int64_t width, std::int64_t height) {
    const auto w = static_cast<double>(width), h = static_cast<double>(height);
    const double half = 0.5 * std::hypot(w, h), u = (p.x - 0.5 * w) / half, v = (p.y - 0.5 * h) / half, rr = u * u + v * v;
    return {u, v, rr, rr * rr};
}

std::array<double, 3> ShotFalloff::at(PointPx p, std::int64_t width, std::int64_t height) const {
    const std::array<double, 4> t = terms(p, width, height);
    std::array<double, 3> out{};
    for (std::size_t c = 0; c < 3; ++c) {
        double log = 0;
        for (std::size_t k = 0; k < 4; ++k) log += factor[c][k] * t[k];
        out[c] = std::exp(log);
    }
    return out;
}

}  // namespace basefog
