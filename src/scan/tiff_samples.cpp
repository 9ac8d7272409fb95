// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/tiff_samples.h"

#include "scan/block_source.h"
#include "scan/constants.h"
#include "scan/decode_count.h"
#include "scan/kept_rows.h"
#include "scan/orientation.h"

#include <tiffio.h>
#include <cstring>
#include <vector>

namespace basefog::scan {
namespace {

constexpr const char* kDamageHint = "the file is damaged there: copy or scan it again";

/// Lays the samples of one plane into their place among the interleaved ones.
void interleave(const std::byte* plane, std::byte* pixels, std::int64_t count, const SampleLayout& layout, int sample) {
    const auto scatter = [&](auto type) {
        using Sample = decltype(type);
        const auto* in = reinterpret_cast<const Sample*>(plane);
        auto* out = reinterpret_cast<Sample*>(pixels) + sample;
        for (std::int64_t i = 0; i < count; ++i, out += layout.samples) *out = in[i];
    };
    switch (bytes_of(layout.type)) {
        case 1:
            scatter(std::uint8_t{});
            break;
        case 2:
            scatter(std::uint16_t{});
            break;
        default:
            scatter(std::uint32_t{});
            break;
    }
}

class TiffBlocks final : public BlockDecoder {
public:
    TiffBlocks(std::unique_ptr<TiffFile> file, const TiffPage& page)
        : file_(std::move(file)),
          page_(page),
          across_((page.layout.width + page.block_width - 1) / page.block_width),
          down_((page.layout.height + page.block_height - 1) / page.block_height),
          plane_(page.separate ? static_cast<std::size_t>(page.block_width * page.block_height * bytes_of(page.layout.type)) : 0) {}
    [[nodiscard]] const SampleLayout& layout() const override { return page_.layout; }
    [[nodiscard]] std::int64_t block_width() const override { return page_.block_width; }
    [[nodiscard]] std::int64_t block_height() const override { return page_.block_height; }

    [[nodiscard]] Result<void> decode(std::int64_t column, std::int64_t row, std::byte* out) override {
        if (!page_.separate) return decode_one(row * across_ + column, row, page_.layout.pixel_bytes(), out);
        for (int sample = 0; sample < page_.layout.samples; ++sample) {
            const std::int64_t index = (sample * down_ + row) * across_ + column;
            if (auto done = decode_one(index, row, bytes_of(page_.layout.type), plane_.data()); !done) return done;
            interleave(plane_.data(), out, page_.block_width * page_.block_height, page_.layout, sample);
        }
        return {};
    }

private:
    [[nodiscard]] Result<void> decode_one(std::int64_t index, std::int64_t row, std::int64_t pixel_bytes, std::byte* out) {
        const std::int64_t first_row = row * page_.block_height;
        const std::int64_t rows = page_.tiled ? page_.block_height : std::min(page_.block_height, page_.layout.height - first_row);
        const std::int64_t bytes = rows * page_.block_width * pixel_bytes;
        const auto which = static_cast<std::uint32_t>(index);
        const tmsize_t got = page_.tiled ? TIFFReadEncodedTile(file_->handle(), which, out, bytes) : TIFFReadEncodedStrip(file_->handle(), which, out, bytes);
        count_decoded(bytes);
        if (got == bytes) return {};
        return file_->failure("cannot be decoded at row " + std::to_string(first_row), kDamageHint);
    }

    std::unique_ptr<TiffFile> file_;
    TiffPage page_;
    std::int64_t across_, down_;
    std::vector<std::byte> plane_;
};

/// Rows, by one handle for each plane, as each decodes from its own top.
class TiffRows final : public KeptRows {
public:
    TiffRows(std::vector<std::unique_ptr<TiffFile>> planes, const TiffPage& page, std::int64_t memory_bytes)
        : KeptRows(page.layout, memory_bytes, !page.compressed), planes_(std::move(planes)), page_(page) {
        if (page.separate) plane_row_.resize(static_cast<std::size_t>(page.layout.width * bytes_of(page.layout.type)));
    }

private:
    [[nodiscard]] Result<void> decode(std::int64_t y, std::byte* row) override {
        for (std::size_t plane = 0; plane < planes_.size(); ++plane) {
            std::byte* to = page_.separate ? plane_row_.data() : row;
            if (TIFFReadScanline(planes_[plane]->handle(), to, static_cast<std::uint32_t>(y), static_cast<std::uint16_t>(plane)) != 1 ||
                planes_[plane]->cut_short())
                return planes_[plane]->failure("cannot be decoded at row " + std::to_string(y), kDamageHint);
            count_decoded(page_.separate ? static_cast<std::int64_t>(plane_row_.size()) : page_.layout.row_bytes());
            if (page_.separate) interleave(plane_row_.data(), row, page_.layout.width, page_.layout, static_cast<int>(plane));
            if (y % kRowsBetweenForgetting == 0) planes_[plane]->forget_mapped_pages();
        }
        return {};
    }

    static constexpr std::int64_t kRowsBetweenForgetting = 64;  // Chosen: a few megabytes of compressed data at most
    std::vector<std::unique_ptr<TiffFile>> planes_;
    TiffPage page_;
    std::vector<std::byte> plane_row_;
};

/// To the page, decoding JPEG's luma and chroma to RGB: the library forgets that wish on every change of page.
Result<void> position(TiffFile& file, const TiffPage& page) {
    if (auto went = file.go_to_page(page.index); !went) return went;
    if (page.lossy && page.colours() == 3) TIFFSetField(file.handle(), TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
    return {};
}

Result<std::unique_ptr<SampleSource>> open_rows(const TiffFile& file, const TiffPage& page, std::int64_t memory_bytes) {
    std::vector<std::unique_ptr<TiffFile>> planes;
    for (int plane = 0; plane < (page.separate ? page.layout.samples : 1); ++plane) {
        auto opened = TiffFile::open(file.file().path(), most_allocation(memory_bytes), TiffFile::Way::mapped);
        if (!opened) return Failure(opened.error());
        if (auto ready = position(**opened, page); !ready) return Failure(ready.error());
        planes.push_back(std::move(*opened));
    }
    return std::make_unique<TiffRows>(std::move(planes), page, memory_bytes);
}

}  // namespace

std::int64_t most_allocation(std::int64_t memory_bytes) { return std::max(memory_bytes, kLeastLibraryAllocation); }

Result<std::unique_ptr<SampleSource>> open_samples(std::unique_ptr<TiffFile> file, const TiffPage& page, std::int64_t memory_bytes, bool from_the_top) {
    if (!page.tiled && page.block_bytes() > memory_bytes / kBlockShare && page.block_height > 1) return open_rows(*file, page, memory_bytes / 2);
    if (page.block_bytes() > most_allocation(memory_bytes))
        return fail(ErrorCode::too_large,
                    "its strips or tiles take " + std::to_string(page.block_bytes() / 1'000'000) + " MB each, more than may be kept in memory",
                    file->file().path(), "allow more memory, or export it with smaller tiles");
    if (auto ready = position(*file, page); !ready) return Failure(ready.error());
    // Rows that become columns are asked for all over the file.
    const bool in_order = from_the_top && !Orientation(page.orientation, page.layout.width, page.layout.height).turned();
    return std::make_unique<BlockSource>(std::make_unique<TiffBlocks>(std::move(file), page), in_order ? 0 : memory_bytes);
}

}  // namespace basefog::scan
