// SPDX-License-Identifier: GPL-3.0-or-later
// The pixels of a picture that mending gave new values, tile by tile.
#pragma once

#include "basefog/core/image.h"
#include "basefog/core/scratch.h"
#include "mend/tiles.h"

#include <vector>

namespace basefog::mending {

struct Patch {
    std::int16_t x = 0, y = 0;  ///< within the tile
    float r = 0, g = 0, b = 0;
};

class Patches {
public:
    explicit Patches(Tiles tiles) : tiles_(tiles), kept_(static_cast<std::size_t>(tiles.count())) {}
    /// A tile's, by rows; once for each tile, any tiles at the same time. Errors: unwritable.
    [[nodiscard]] Result<void> set(int tile, const std::vector<Patch>& patches, Scratch& scratch);
    /// Lays what falls into the part over its pixels. Errors: unreadable.
    [[nodiscard]] Result<void> lay_over(const cv::Rect& part, View<LinearRgbi> pixels) const;

private:
    struct Kept {
        Shelf shelf;
        std::vector<std::uint32_t> row_ends;  ///< patches up to the end of each row; empty where there are none
    };
    Tiles tiles_;
    std::vector<Kept> kept_;
};

}  // namespace basefog::mending
