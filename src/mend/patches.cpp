// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/patches.h"

namespace basefog::mending {

Result<void> Patches::set(int tile, const std::vector<Patch>& patches, Scratch& scratch) {
    if (patches.empty()) return {};
    const auto bytes = static_cast<std::int64_t>(patches.size() * sizeof(Patch));
    auto shelf = scratch.take(bytes);
    if (!shelf) return Failure(std::move(shelf.error()));
    Kept& kept = kept_[static_cast<std::size_t>(tile)];
    kept.shelf = std::move(*shelf);
    kept.row_ends.assign(static_cast<std::size_t>(tiles_.tile(tile).height), 0);
    for (const Patch& patch : patches) ++kept.row_ends[static_cast<std::size_t>(patch.y)];
    for (std::size_t y = 1; y < kept.row_ends.size(); ++y) kept.row_ends[y] += kept.row_ends[y - 1];
    return kept.shelf.put(0, patches.data(), bytes);
}

Result<void> Patches::lay_over(const cv::Rect& part, View<LinearRgbi> pixels) const {
    std::vector<Patch> patches;
    for (int ty = part.y / kTilePx; ty * kTilePx < part.y + part.height; ++ty) {
        for (int tx = part.x / kTilePx; tx * kTilePx < part.x + part.width; ++tx) {
            const int index = ty * tiles_.across() + tx;
            const Kept& kept = kept_[static_cast<std::size_t>(index)];
            if (kept.row_ends.empty()) continue;
            const cv::Rect tile = tiles_.tile(index), shared = tile & part;
            const int top = shared.y - tile.y;
            const std::uint32_t first = top > 0 ? kept.row_ends[static_cast<std::size_t>(top) - 1] : 0;
            const std::uint32_t end = kept.row_ends[static_cast<std::size_t>(top + shared.height) - 1];
            patches.resize(end - first);
            constexpr auto kBytes = static_cast<std::int64_t>(sizeof(Patch));
            if (auto got = kept.shelf.get(first * kBytes, patches.data(), (end - first) * kBytes); !got) return got;
            for (const Patch& patch : patches) {
                const int x = tile.x + patch.x - part.x, y = tile.y + patch.y - part.y;
                if (x < 0 || x >= part.width) continue;
                LinearRgbi& pixel = pixels(x, y);
                pixel.r = patch.r;
                pixel.g = patch.g;
                pixel.b = patch.b;
            }
        }
    }
    return {};
}

}  // namespace basefog::mending
