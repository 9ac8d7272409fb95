// SPDX-License-Identifier: GPL-3.0-or-later
// Pixels of a shot asked for at places between them.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/image.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

namespace basefog::scan {

/// Pixels that interpolation reaches to either side, and one for an outline's bend between the places asked.
inline constexpr std::int64_t kReach = 3;

/// Weights of four neighbours for a place `t` of the way from the second to the third. Cubic convolution, a = -1/2 [Keys1981].
[[nodiscard]] inline std::array<float, 4> cubic(float t) {
    const float t2 = t * t, t3 = t2 * t;
    return {0.5F * (-t3 + 2 * t2 - t), 0.5F * (3 * t3 - 5 * t2 + 2), 0.5F * (-3 * t3 + 4 * t2 + t), 0.5F * (t3 - t2)};
}

/// At a place of the whole picture, of which `source` was read as `pixels`; beyond them the outermost repeat.
[[nodiscard]] inline LinearRgbi between(const Image<LinearRgbi>& pixels, PxRect source, PointPx at) {
    const double x = at.x - 0.5 - static_cast<double>(source.x0), y = at.y - 0.5 - static_cast<double>(source.y0), fx = std::floor(x), fy = std::floor(y);
    const auto x0 = static_cast<std::int64_t>(fx) - 1, y0 = static_cast<std::int64_t>(fy) - 1;
    const std::array<float, 4> across = cubic(static_cast<float>(x - fx)), down = cubic(static_cast<float>(y - fy));
    std::array<std::int64_t, 4> column{};
    for (std::int64_t i = 0; i < 4; ++i) column[static_cast<std::size_t>(i)] = std::clamp<std::int64_t>(x0 + i, 0, pixels.width() - 1);
    LinearRgbi sum{};
    for (std::size_t j = 0; j < 4; ++j) {
        const LinearRgbi* row = pixels.row(std::clamp<std::int64_t>(y0 + static_cast<std::int64_t>(j), 0, pixels.height() - 1));
        for (std::size_t i = 0; i < 4; ++i) {
            const float weight = down[j] * across[i];
            const LinearRgbi& p = row[column[i]];
            sum.r += weight * p.r, sum.g += weight * p.g, sum.b += weight * p.b, sum.ir += weight * p.ir;
        }
    }
    return sum;
}

/// What of a shot of this size the places of `wanted` need, where `seen` says where the shot shows each. A rectangle's outline bounds its inside, as
/// neither lens nor turning folds anything; a side that passes `bent_most` is bent most just there.
template <class Seen>
[[nodiscard]] PxRect source_of(PxRect wanted, PointPx bent_most, std::int64_t width, std::int64_t height, const Seen& seen) {
    constexpr int kAlong = 32;
    double x0 = 1e18, y0 = 1e18, x1 = -1e18, y1 = -1e18;
    const auto take = [&](double x, double y) {
        const PointPx p = seen(PointPx{x, y});
        x0 = std::min(x0, p.x), y0 = std::min(y0, p.y), x1 = std::max(x1, p.x), y1 = std::max(y1, p.y);
    };
    const auto left = static_cast<double>(wanted.x0), right = static_cast<double>(wanted.x1), top = static_cast<double>(wanted.y0),
               bottom = static_cast<double>(wanted.y1);
    for (int i = 0; i <= kAlong; ++i) {
        const double x = left + (right - left) * i / kAlong, y = top + (bottom - top) * i / kAlong;
        take(x, top), take(x, bottom), take(left, y), take(right, y);
    }
    const double mx = std::clamp(bent_most.x, left, right), my = std::clamp(bent_most.y, top, bottom);
    take(mx, top), take(mx, bottom), take(left, my), take(right, my);
    const auto whole = [](double v) { return static_cast<std::int64_t>(std::floor(v)); };
    const PxRect reached{whole(x0) - kReach, whole(y0) - kReach, whole(x1) + kReach + 1, whole(y1) + kReach + 1};
    const PxRect found = intersection(reached, {0, 0, width, height});
    if (!found.empty()) return found;
    // All of it was pushed out of the picture: the nearest pixel there is.
    const std::int64_t x = std::clamp<std::int64_t>(reached.x0, 0, width - 1), y = std::clamp<std::int64_t>(reached.y0, 0, height - 1);
    return {x, y, x + 1, y + 1};
}

}  // namespace basefog::scan
