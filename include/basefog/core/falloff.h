// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/geometry.h"

#include <array>
#include <cstdint>

namespace basefog {

/// How light falls off over a camera's shot: light there over light in its middle, a channel's natural logarithm being a sum of four terms.
struct ShotFalloff {
    std::array<std::array<double, 4>, 3> factor{};  ///< of each channel's terms
    /// u, v, r^2 and r^4 at a pixel of the shot: lengths from its middle, in halves of its diagonal.
    [[nodiscard]] static std::array<double, 4> terms(PointPx p, std::int64_t width, std::int64_t height);
    [[nodiscard]] std::array<double, 3> at(PointPx p, std::int64_t width, std::int64_t height) const;
    friend bool operator==(const ShotFalloff&, const ShotFalloff&) = default;
};

}  // namespace basefog
