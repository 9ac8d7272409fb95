// SPDX-License-Identifier: GPL-3.0-or-later
// TIFF positives. XMP and IPTC blocks are encoded by Exiv2 but put in place by libtiff while the file is written: Exiv2 would
// rebuild the whole file in memory to add a tag (and cannot write BigTIFF), so a big positive would be written twice.
#include "basefog/core/pending_file.h"
#include "basefog/invert/write.h"
#include "invert/adx.h"
#include "invert/constants.h"
#include "invert/metadata.h"
#include "invert/tiff_output.h"

#include <tiffio.h>
#include <algorithm>
#include <cmath>
#include <vector>

namespace basefog {
namespace {

/// Chosen: strips of about this many bytes: few enough for speed, small enough for readers that decode one at a time.
constexpr std::int64_t kStripBytes = 256 * 1024;
/// Classic TIFF's offsets are 32 bits [TIFF6]; data that cannot be compressed grows a little, hence the room left.
constexpr std::int64_t kClassicLimit = 0xF0000000LL;
constexpr std::int64_t kPixelBytes = 6;
constexpr std::int64_t kBandRows = invert::kWriterBandRows;
constexpr int kDeflateLevel = 6;  // Chosen: libdeflate's balance of speed and size
constexpr int kZstdLevel = 3;     // Chosen: zstd's own default is 3; higher levels gain little on grain

std::uint16_t tiff_compression(Compression compression) {
    switch (compression) {
        case Compression::none:
            return COMPRESSION_NONE;
        case Compression::lzw:
            return COMPRESSION_LZW;
        case Compression::deflate:
            return COMPRESSION_ADOBE_DEFLATE;
        case Compression::zstd:
            return COMPRESSION_ZSTD;
    }
    return COMPRESSION_NONE;
}

/// The EXIF directory comes first in the file; returns its place, 0 when there is nothing to say.
std::uint64_t write_exif_directory(TIFF* tiff, const PhotoMetadata& metadata) {
    const std::string date = invert::exif_date(metadata.date);
    const std::uint16_t speed = invert::exif_speed(metadata);
    if (date.empty() && speed == 0) return 0;
    if (TIFFCreateEXIFDirectory(tiff) != 0) return 0;
    if (!date.empty()) TIFFSetField(tiff, EXIFTAG_DATETIMEORIGINAL, date.c_str());
    if (speed != 0) TIFFSetField(tiff, EXIFTAG_ISOSPEEDRATINGS, 1, &speed);
    std::uint64_t place = 0;
    if (TIFFWriteCustomDirectory(tiff, &place) == 0) place = 0;
    TIFFFreeDirectory(tiff);
    TIFFCreateDirectory(tiff);
    return place;
}

void set_picture_fields(TIFF* tiff, PositiveSize size, const std::string& icc_bytes, Compression compression, PixelsPerMm resolution) {
    const auto dpi = static_cast<float>(dpi_from_px_per_mm(resolution));
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, static_cast<std::uint32_t>(size.width));
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, static_cast<std::uint32_t>(size.height));
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 16);
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, 3);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
    TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    TIFFSetField(tiff, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT);
    TIFFSetField(tiff, TIFFTAG_COMPRESSION, tiff_compression(compression));
    if (compression != Compression::none) TIFFSetField(tiff, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
    if (compression == Compression::deflate) TIFFSetField(tiff, TIFFTAG_ZIPQUALITY, kDeflateLevel);
    if (compression == Compression::zstd) TIFFSetField(tiff, TIFFTAG_ZSTD_LEVEL, kZstdLevel);
    if (dpi > 0 && dpi < 1e6f) {
        TIFFSetField(tiff, TIFFTAG_XRESOLUTION, dpi);
        TIFFSetField(tiff, TIFFTAG_YRESOLUTION, dpi);
        TIFFSetField(tiff, TIFFTAG_RESOLUTIONUNIT, RESUNIT_INCH);
    }
    if (!icc_bytes.empty()) TIFFSetField(tiff, TIFFTAG_ICCPROFILE, static_cast<std::uint32_t>(icc_bytes.size()), icc_bytes.data());
}

void set_description_fields(TIFF* tiff, const PhotoMetadata& metadata, invert::MetadataBlocks& blocks) {
    const std::string description = invert::clean_text(metadata.description.empty() ? metadata.title : metadata.description);
    if (!description.empty()) TIFFSetField(tiff, TIFFTAG_IMAGEDESCRIPTION, description.c_str());
    if (!metadata.software.empty()) TIFFSetField(tiff, TIFFTAG_SOFTWARE, invert::clean_text(metadata.software).c_str());
    if (!blocks.xmp.empty()) TIFFSetField(tiff, TIFFTAG_XMLPACKET, static_cast<std::uint32_t>(blocks.xmp.size()), blocks.xmp.data());
    if (!blocks.iptc.empty()) {
        // libtiff before 4.5 counts this tag in 32-bit words, later ones in bytes.
        const TIFFField* const field = TIFFFieldWithTag(tiff, TIFFTAG_RICHTIFFIPTC);
        const std::size_t unit = field != nullptr && TIFFFieldDataType(field) == TIFF_LONG ? sizeof(std::uint32_t) : 1;
        blocks.iptc.resize((blocks.iptc.size() + unit - 1) / unit * unit, '\0');
        TIFFSetField(tiff, TIFFTAG_RICHTIFFIPTC, static_cast<std::uint32_t>(blocks.iptc.size() / unit), blocks.iptc.data());
    }
}

std::int64_t rows_per_strip(PositiveSize size) { return std::clamp<std::int64_t>(kStripBytes / (size.width * kPixelBytes), 1, size.height); }

/// `rows(y, n, strip)` puts n rows from y on into the strip.
template <class Rows>
bool write_strips(TIFF* tiff, PositiveSize size, const Rows& rows) {
    const std::int64_t most = rows_per_strip(size);
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, static_cast<std::uint32_t>(most));
    std::vector<EncodedRgb16> strip(static_cast<std::size_t>(most * size.width));  // the predictor works in place
    for (std::int64_t y = 0, index = 0; y < size.height; y += most, ++index) {
        const std::int64_t count = std::min(most, size.height - y);
        rows(y, count, strip.data());
        if (TIFFWriteEncodedStrip(tiff, static_cast<std::uint32_t>(index), strip.data(), count * size.width * kPixelBytes) < 0) return false;
    }
    return true;
}

template <class Rows>
Result<void> write_rgb16(const std::string& path, PositiveSize size, const std::string& icc_bytes, Compression compression, PixelsPerMm resolution,
                         const PhotoMetadata& metadata, const Rows& rows) {
    static_assert(sizeof(EncodedRgb16) == kPixelBytes);
    if (size.width <= 0 || size.height <= 0) return fail(ErrorCode::unwritable, "the picture has no pixels", path);
    if (size.width > UINT32_MAX / kPixelBytes || size.height > UINT32_MAX) return fail(ErrorCode::too_large, "the picture is too large for a TIFF file", path);
    auto blocks = invert::encode_blocks(metadata);
    if (!blocks) {
        blocks.error().path = path;
        return Failure(blocks.error());
    }
    PendingFile pending(path);
    const bool big = size.width * size.height * kPixelBytes > kClassicLimit;
    invert::TiffOutput output(pending.temporary_path(), big);
    if (TIFF* const tiff = output.handle(); tiff != nullptr) {
        const std::uint64_t exif = write_exif_directory(tiff, metadata);
        set_picture_fields(tiff, size, icc_bytes, compression, resolution);
        set_description_fields(tiff, metadata, *blocks);
        if (exif != 0) TIFFSetField(tiff, TIFFTAG_EXIFIFD, exif);
        if (!write_strips(tiff, size, rows)) output.note_failure();
    }
    if (const std::string problem = output.close(); !problem.empty())
        return fail(ErrorCode::unwritable, problem, path, "check that the folder may be written and has free space");
    return pending.commit();
}

std::uint16_t adx16(float density) {
    const double code = invert::adx_code(Density(double(density)), invert::AdxBits::sixteen);
    return static_cast<std::uint16_t>(std::lround(std::isnan(code) ? 0.0 : std::clamp(code, 0.0, 65535.0)));
}

}  // namespace

Result<void> write_positive_tiff(const std::string& path, View<const EncodedRgb16> picture, const std::string& icc_bytes, Compression compression,
                                 PixelsPerMm resolution, const PhotoMetadata& metadata) {
    return write_rgb16(path, {picture.width(), picture.height()}, icc_bytes, compression, resolution, metadata,
                       [&](std::int64_t y, std::int64_t n, EncodedRgb16* out) {
                           for (std::int64_t k = 0; k < n; ++k) std::copy_n(picture.row(y + k), picture.width(), out + k * picture.width());
                       });
}

Result<void> write_density_tiff(const std::string& path, PositiveSize size, const FillDensity& fill, Compression compression, PixelsPerMm resolution,
                                const PhotoMetadata& metadata) {
    Image<DensityRgbi> band;
    std::int64_t first = 0, end = 0;
    return write_rgb16(path, size, {}, compression, resolution, metadata, [&](std::int64_t y, std::int64_t n, EncodedRgb16* out) {
        for (std::int64_t k = y; k < y + n; ++k, out += size.width) {
            if (k >= end) {
                first = k;
                end = std::min(size.height, k + kBandRows);
                band = Image<DensityRgbi>(size.width, end - first);
                fill(first, band.view());
            }
            std::transform(band.row(k - first), band.row(k - first) + size.width, out, [](const DensityRgbi& d) {
                return EncodedRgb16{adx16(d.r), adx16(d.g), adx16(d.b)};
            });
        }
    });
}

}  // namespace basefog
