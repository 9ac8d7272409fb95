// SPDX-License-Identifier: GPL-3.0-or-later
// What one picture says of the roll's neutral: a vote each, never more, whatever its subject.
#pragma once

#include "film/layers.h"

#include <array>
#include <cstdint>
#include <optional>
#include <vector>

namespace basefog::film {

/// Red - green and blue - green, log10 H.
using Pair = std::array<double, 2>;

/// What the picture's highlights and edges would have for a neutral, at a height above the toe.
struct CastVote {
    Pair cast{};
    double height = 0;
};
/// A picture's light in its layers (powers of 10 of their exposures), smoothed over neighbouring spots; 0 where one of them is unusable.
struct SmoothPicture {
    std::int64_t width = 0, height = 0;
    std::vector<std::array<float, 3>> light;  ///< rounded: kept for every picture of a stock at once
};
[[nodiscard]] SmoothPicture smooth(const LayerPicture& picture);
/// `about`: where a neutral is expected (the mode is sought near it).
[[nodiscard]] std::optional<CastVote> vote_cast(const SmoothPicture& picture, const Pair& about);

/// How red - green and blue - green change with exposure over neighbouring spots: 0 where the slopes' ratios are right.
[[nodiscard]] std::optional<Pair> vote_tilt(const LayerPicture& picture);

}  // namespace basefog::film
