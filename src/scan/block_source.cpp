// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/block_source.h"

#include <algorithm>

namespace basefog::scan {

BlockSource::BlockSource(std::unique_ptr<BlockDecoder> decoder, std::int64_t cache_bytes)
    : decoder_(std::move(decoder)),
      columns_((layout().width + decoder_->block_width() - 1) / decoder_->block_width()),
      block_bytes_(decoder_->block_width() * decoder_->block_height() * layout().pixel_bytes()),
      most_blocks_(std::max(columns_, cache_bytes / block_bytes_)) {}

Reach BlockSource::reach() const { return decoder_->block_width() >= layout().width ? Reach::full_rows : Reach::anywhere; }

Result<void> BlockSource::visit(PxRect region, const Visit& visit) {
    const std::int64_t width = decoder_->block_width(), height = decoder_->block_height();
    for (std::int64_t row = region.y0 / height; row * height < region.y1; ++row) {
        for (std::int64_t column = region.x0 / width; column * width < region.x1; ++column) {
            const auto bytes = block(column, row);
            if (!bytes) return Failure(bytes.error());
            const PxRect whole{column * width, row * height, (column + 1) * width, (row + 1) * height};
            const PxRect piece = intersection(whole, region);
            const std::int64_t first = (piece.y0 - whole.y0) * width + (piece.x0 - whole.x0);
            visit(piece, *bytes + first * layout().pixel_bytes(), width * layout().pixel_bytes());
        }
    }
    return {};
}

Result<const std::byte*> BlockSource::block(std::int64_t column, std::int64_t row) {
    const std::int64_t key = row * columns_ + column;
    if (const auto found = by_key_.find(key); found != by_key_.end()) {
        recent_.splice(recent_.begin(), recent_, found->second);
        return recent_.front().bytes.get();
    }
    std::unique_ptr<std::byte[]> bytes;
    if (static_cast<std::int64_t>(recent_.size()) >= most_blocks_) {  // take over the memory of the one longest unused
        by_key_.erase(recent_.back().key);
        bytes = std::move(recent_.back().bytes);
        recent_.pop_back();
    }
    if (!bytes) bytes = std::make_unique_for_overwrite<std::byte[]>(static_cast<std::size_t>(block_bytes_));
    if (auto decoded = decoder_->decode(column, row, bytes.get()); !decoded) return Failure(decoded.error());
    recent_.push_front(Block{key, std::move(bytes)});
    by_key_[key] = recent_.begin();
    return recent_.front().bytes.get();
}

}  // namespace basefog::scan
