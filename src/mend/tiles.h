// SPDX-License-Identifier: GPL-3.0-or-later
// A picture is mended in square tiles, each read with as much around it as its filters reach: memory follows the tile, not the picture. The tiles are the
// same whatever memory and threads there are, and so are the results.
#pragma once

#include "basefog/core/for_each.h"
#include "basefog/mend/mend.h"

#include <opencv2/core.hpp>

#include <cstdint>

namespace basefog::mending {

/// Chosen: what a filter of 1 mm needs around a tile at 3200 dpi is then half as much again. Safe from 256 to 2048.
inline constexpr int kTilePx = 512;

struct Tiles {
    int width = 0, height = 0;
    [[nodiscard]] int across() const { return (width + kTilePx - 1) / kTilePx; }
    [[nodiscard]] int down() const { return (height + kTilePx - 1) / kTilePx; }
    [[nodiscard]] int count() const { return across() * down(); }
    [[nodiscard]] cv::Rect all() const { return {0, 0, width, height}; }
    [[nodiscard]] cv::Rect tile(int index) const { return cv::Rect(index % across() * kTilePx, index / across() * kTilePx, kTilePx, kTilePx) & all(); }
    [[nodiscard]] cv::Rect grown(const cv::Rect& tile, int by) const {
        return cv::Rect(tile.x - by, tile.y - by, tile.width + 2 * by, tile.height + 2 * by) & all();
    }
};

/// How many tiles may be at work together, each with what lies within `reach` of it: some 80 bytes a pixel with all that filters make of it.
[[nodiscard]] inline std::int64_t tiles_at_once(const MendMeans& means, int reach) {
    constexpr std::int64_t kBytes = 80;
    const std::int64_t side = kTilePx + 2 * reach;
    return means.memory_bytes / (kBytes * side * side);
}

/// work(index, rect) for every tile.
template <class Work>
[[nodiscard]] Result<void> over_tiles(const Tiles& tiles, const ForEach& for_each, std::int64_t most, const Work& work) {
    return for_each(tiles.count(), most, [&](std::int64_t i) { return work(static_cast<int>(i), tiles.tile(static_cast<int>(i))); });
}

}  // namespace basefog::mending
