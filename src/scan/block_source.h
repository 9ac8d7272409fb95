// SPDX-License-Identifier: GPL-3.0-or-later
// Random access over blocks (strips or tiles) that decode on their own, with a bounded cache of decoded ones.
#pragma once

#include "scan/samples.h"

#include <list>
#include <memory>
#include <unordered_map>

namespace basefog::scan {

/// Decodes one block at a time. Blocks tile the picture from its top-left; those at the right and bottom reach over the edge.
class BlockDecoder {
public:
    virtual ~BlockDecoder() = default;
    [[nodiscard]] virtual const SampleLayout& layout() const = 0;
    [[nodiscard]] virtual std::int64_t block_width() const = 0;
    [[nodiscard]] virtual std::int64_t block_height() const = 0;
    /// Fills block_width x block_height pixels; what lies outside the picture may hold anything.
    [[nodiscard]] virtual Result<void> decode(std::int64_t column, std::int64_t row, std::byte* out) = 0;
};

class BlockSource final : public SampleSource {
public:
    /// Keeps at most `cache_bytes` of decoded blocks, and always a row of them, so that rows read from the top are decoded once.
    BlockSource(std::unique_ptr<BlockDecoder> decoder, std::int64_t cache_bytes);
    [[nodiscard]] const SampleLayout& layout() const override { return decoder_->layout(); }
    [[nodiscard]] Reach reach() const override;
    [[nodiscard]] bool ready_for(PxRect) const override { return true; }
    [[nodiscard]] Result<void> visit(PxRect region, const Visit& visit) override;

private:
    struct Block {
        std::int64_t key;
        std::unique_ptr<std::byte[]> bytes;  ///< not cleared first: a decoder fills what is read
    };
    [[nodiscard]] Result<const std::byte*> block(std::int64_t column, std::int64_t row);
    std::unique_ptr<BlockDecoder> decoder_;
    std::int64_t columns_, block_bytes_, most_blocks_;
    std::list<Block> recent_;  ///< latest first
    std::unordered_map<std::int64_t, std::list<Block>::iterator> by_key_;
};

}  // namespace basefog::scan
