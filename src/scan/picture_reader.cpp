// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/picture_reader.h"

#include "scan/constants.h"
#include "scan/decoded_source.h"
#include "scan/kept_rows.h"
#include "scan/picture_pixels.h"
#include "scan/sample_reader.h"
#include "scan/settle.h"
#include "scan/tiff_page.h"

namespace basefog::scan {
namespace {

Result<void> check_size(const PictureHeader& header, const std::string& path, const ScanOptions& options) {
    const std::string size = std::to_string(header.width) + " x " + std::to_string(header.height);
    if (header.width > options.max_pixels / header.height)
        return fail(ErrorCode::too_large, "its header claims " + size + " pixels, above the limit of " + std::to_string(options.max_pixels), path,
                    "raise the limit if the file is sound");
    if (header.width > kMostPictureEdge || header.height > kMostPictureEdge || header.width > kMostPicturePixels / header.height)
        return fail(ErrorCode::too_large, "has " + size + " pixels, more than is decoded from PNG and JPEG", path,
                    "save it as a TIFF, which is read piece by piece");
    return {};
}

ScanInfo describe_picture(const std::string& path, FileKind kind, const PictureHeader& header, const ScanOptions& options) {
    const Orientation orientation(header.orientation, header.width, header.height);
    ScanInfo info;
    info.path = path;
    info.kind = kind;
    info.orientation = header.orientation;
    info.width = orientation.width();
    info.height = orientation.height();
    info.bits = header.bits;
    info.colour_channels = header.colours;
    info.lossy = kind == FileKind::jpeg;
    info.date = header.date;
    std::optional<PixelsPerMm> resolution;
    if (header.x_dpi > 0 && header.y_dpi > 0) resolution = plausible_resolution(header.x_dpi, header.y_dpi, info.warnings);
    settle_resolution(info, resolution, options);
    warn_of_limits(info);
    if (header.encoding) {
        info.encoding = *header.encoding;
        info.encoding_origin = Origin::file;
    }
    if (header.unread_profile && !options.encoding)
        info.warnings.push_back("Profiles in PNG files are not read; save the scan as a TIFF, or state the encoding.");
    return info;
}

/// Of the memory a reader may use: for rows that are kept.
constexpr std::int64_t kRowsShare = 4;

/// A picture too large to be decoded whole.
class PictureRows final : public KeptRows {
public:
    PictureRows(const SampleLayout& layout, std::int64_t memory_bytes, std::unique_ptr<RowDecoder> rows, bool held_whole)
        : KeptRows(layout, memory_bytes, false), rows_(std::move(rows)), held_whole_(held_whole) {}
    [[nodiscard]] std::int64_t held_bytes() const override { return held_whole_ ? layout().total_bytes() : 0; }

private:
    [[nodiscard]] Result<void> decode(std::int64_t y, std::byte* row) override {
        if (y == 0)
            if (auto begun = rows_->begin(); !begun) return begun;
        count_decoded(layout().row_bytes());
        return rows_->next(row);
    }
    std::unique_ptr<RowDecoder> rows_;
    bool held_whole_;  ///< by the library
};

/// Lets go of the decoder at the end.
Result<DecodedSource::Pixels> decode_whole(std::shared_ptr<RowDecoder>& decoder, const SampleLayout& layout, std::vector<std::byte>& pixels) {
    const std::shared_ptr<RowDecoder> rows = std::move(decoder);
    pixels.resize(static_cast<std::size_t>(layout.total_bytes()));
    if (auto begun = rows->begin(); !begun) return Failure(std::move(begun.error()));
    for (std::int64_t y = 0; y < layout.height; ++y)
        if (auto read = rows->next(pixels.data() + y * layout.row_bytes()); !read) return Failure(std::move(read.error()));
    return DecodedSource::Pixels{pixels.data(), layout.row_bytes()};
}

}  // namespace

Result<std::unique_ptr<ScanReader>> open_picture(const std::string& path, FileKind kind, const ScanOptions& options, Observer& observer) {
    auto file = InputFile::open(path);
    if (!file) return Failure(file.error());
    auto header = kind == FileKind::png ? read_png_header(*file) : read_jpeg_header(*file);
    if (!header) return Failure(header.error());
    if (options.orientation) header->orientation = *options.orientation;
    if (auto fits = check_size(*header, path, options); !fits) return Failure(fits.error());
    ScanInfo info = describe_picture(path, kind, *header, options);
    Linearisation how = settle_encoding(info, header->profile, options);

    const SampleLayout layout{header->width, header->height, header->colours, header->bits == 16 ? SampleType::u16 : SampleType::u8};
    auto rows = kind == FileKind::jpeg ? jpeg_rows(path, *header) : png_rows(path, *header);
    std::unique_ptr<SampleSource> source;
    if (layout.total_bytes() > options.memory_bytes)
        source = std::make_unique<PictureRows>(layout, options.memory_bytes / kRowsShare, std::move(rows), header->out_of_order);
    else
        source = std::make_unique<DecodedSource>(
            layout, [rows = std::shared_ptr<RowDecoder>(std::move(rows)), layout, pixels = std::make_shared<std::vector<std::byte>>()]() mutable {
                return decode_whole(rows, layout, *pixels);
            });
    return std::make_unique<SampleReader>(std::move(info), std::move(source), header->orientation, std::move(how), options, observer);
}

}  // namespace basefog::scan
