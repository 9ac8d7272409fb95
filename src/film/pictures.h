// SPDX-License-Identifier: GPL-3.0-or-later
// A roll's picture frames as small pictures, for what is estimated over the roll.
#pragma once

#include "basefog/film/types.h"

#include <array>
#include <cstddef>
#include <vector>

namespace basefog::film {

using Triple = std::array<double, 3>;

/// A spot that neither residue, dust nor clipping spoils, and that holds a number in every colour.
[[nodiscard]] bool is_usable(const FrameSamples& frame, std::int64_t x, std::int64_t y);

/// A frame reduced by averaging 2 x 2 usable spots. `usable` is false where fewer than half of them were.
struct Picture {
    std::size_t roll = 0;   ///< index among the rolls fitted together
    std::size_t frame = 0;  ///< index in RollSamples
    std::int64_t width = 0, height = 0;
    std::vector<Triple> density;  ///< above base
    std::vector<char> usable;
    std::int64_t n_usable = 0;
    [[nodiscard]] std::size_t at(std::int64_t x, std::int64_t y) const { return static_cast<std::size_t>(y * width + x); }
};

/// Frames of kind `picture` with enough usable spots, wedges and cards left out; a frame may be missing.
[[nodiscard]] std::vector<Picture> reduce_pictures(const RollSamples& roll, std::size_t index);

}  // namespace basefog::film
