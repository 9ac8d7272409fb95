// SPDX-License-Identifier: GPL-3.0-or-later
// What one picture says of the roll's neutral: a vote each, never more, whatever its subject.
#pragma once

#include "film/layers.h"

#include <algorithm>
#include <array>
#include <cstdint>
#include <optional>
#include <vector>

namespace basefog::film {

/// Red - green and blue - green, log10 H.
using Pair = std::array<double, 2>;

/// What the picture would have for a neutral, at a height above the toe.
struct CastVote {
    Pair cast{};
    double height = 0;
    std::optional<double> near = std::nullopt;  ///< where that was asked: share of the strongest light and edges that lies near the neutral expected
};
/// A picture's light in its layers (powers of 10 of their exposures), smoothed over neighbouring spots; 0 where one of them is unusable.
struct SmoothPicture {
    std::int64_t width = 0, height = 0;
    std::vector<std::array<float, 3>> light;  ///< rounded: kept for every picture of a stock at once
};
[[nodiscard]] SmoothPicture smooth(const LayerPicture& picture);
/// Where a neutral is expected: red - green and blue - green at the toe, and their change with each log10 H above it; and how surely.
struct NeutralLine {
    Pair speed{}, tilt{};
    Pair speed_variance{}, tilt_variance{}, covariance{};
    [[nodiscard]] Pair at(double height) const { return {speed[0] + tilt[0] * height, speed[1] + tilt[1] * height}; }
    [[nodiscard]] Pair variance_at(double height) const {
        const auto of = [&](std::size_t k) { return std::max(speed_variance[k] + height * (2 * covariance[k] + height * tilt_variance[k]), 0.0); };
        return {of(0), of(1)};
    }
};
/// Of light and of its edges, what lies near the neutral that is expected, the strongest counting most.
[[nodiscard]] std::optional<CastVote> vote_neutral(const SmoothPicture& picture, const NeutralLine& about);
/// Of all light and edges, the strongest counting most, and of the colour that is most common near `about`: of pictures that may be in any light.
[[nodiscard]] std::optional<CastVote> vote_cast(const SmoothPicture& picture, const Pair& about);
/// How red - green and blue - green change with exposure over neighbouring spots: 0 where the slopes' ratios are right. Those near `about` count most,
/// where it is known well enough.
[[nodiscard]] std::optional<Pair> vote_tilt(const LayerPicture& picture, const std::optional<NeutralLine>& about);

}  // namespace basefog::film
