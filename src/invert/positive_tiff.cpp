// SPDX-License-Identifier: GPL-3.0-or-later
// TIFF positives. XMP and IPTC blocks are encoded by Exiv2 but put in place by libtiff while the file is written: Exiv2 would
// rebuild the whole file in memory to add a tag (and cannot write BigTIFF), so a big positive would be written twice.
#include "basefog/core/pending_file.h"
#include "basefog/invert/write.h"
#include "invert/adx.h"
#include "invert/constants.h"
#include "invert/metadata.h"
#include "invert/strip_encoder.h"
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
/// Chosen: rows filled at a time by one thread, in whole strips: one block of the resampler.
constexpr std::int64_t kPortionRows = 64;
/// Chosen: portions at work for each thread before the file is written to, so that none waits long for the last.
constexpr std::int64_t kPortionsPerThread = 4;

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
    invert::set_compression(tiff, compression);
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

/// Some strips on their way to the file: filled and compressed by any thread, written in their order.
struct Portion {
    std::vector<std::vector<std::byte>> strips;
    std::vector<float> reduced;  ///< rows for the proof
};

class StripWriter {
public:
    StripWriter(PositiveSize size, Compression compression, const FillPositive& fill, ProofMaker* proof, const WriteMeans& means)
        : size_(size), compression_(compression), fill_(fill), proof_(proof), means_(means) {
        strip_rows_ = rows_per_strip(size);
        portion_rows_ = std::max<std::int64_t>(1, kPortionRows / strip_rows_) * strip_rows_;
        const std::int64_t bytes = 3 * portion_rows_ * size.width * kPixelBytes;  // as filled, a strip's copy of it, and compressed
        at_once_ = std::clamp<std::int64_t>(means.memory_bytes / bytes, 1, kPortionsPerThread * means.for_each.at_once);
    }
    /// A failure of the file itself is left to `output` to tell.
    Result<void> write(invert::TiffOutput& output) {
        TIFFSetField(output.handle(), TIFFTAG_ROWSPERSTRIP, static_cast<std::uint32_t>(strip_rows_));
        const std::int64_t portions = (size_.height + portion_rows_ - 1) / portion_rows_;
        std::vector<Portion> made(static_cast<std::size_t>(std::min(at_once_, portions)));
        for (std::int64_t first = 0; first < portions; first += at_once_) {
            const std::int64_t n = std::min(at_once_, portions - first);
            auto done = means_.for_each(n, n, [&](std::int64_t i) { return make((first + i) * portion_rows_, made[static_cast<std::size_t>(i)]); });
            if (!done) return done;
            for (std::int64_t i = 0; i < n; ++i)
                if (!put(made[static_cast<std::size_t>(i)], output)) return {};
        }
        return {};
    }

private:
    [[nodiscard]] Result<void> make(std::int64_t y0, Portion& portion) const {
        const std::int64_t rows = std::min(portion_rows_, size_.height - y0);
        Image<EncodedRgb16> pixels(size_.width, rows);
        if (auto filled = fill_(y0, pixels.view()); !filled) return filled;
        if (proof_ != nullptr) {
            portion.reduced.resize(static_cast<std::size_t>(rows * proof_->row_numbers()));
            for (std::int64_t y = 0; y < rows; ++y) proof_->reduce_row(pixels.row(y), portion.reduced.data() + y * proof_->row_numbers());
        }
        portion.strips.clear();
        for (std::int64_t y = 0; y < rows; y += strip_rows_)  // the predictor works in place, so this comes last
            portion.strips.push_back(invert::encode_strip(pixels.row(y), size_.width, std::min(strip_rows_, rows - y), compression_));
        return {};
    }
    [[nodiscard]] bool put(Portion& portion, invert::TiffOutput& output) {
        for (std::vector<std::byte>& strip : portion.strips) {
            if (strip.empty() || TIFFWriteRawStrip(output.handle(), next_strip_++, strip.data(), static_cast<tmsize_t>(strip.size())) < 0) {
                output.note_failure();
                return false;
            }
        }
        if (proof_ != nullptr)
            for (std::size_t at = 0; at < portion.reduced.size(); at += static_cast<std::size_t>(proof_->row_numbers()))
                proof_->add_row(portion.reduced.data() + at);
        return true;
    }

    PositiveSize size_;
    Compression compression_;
    const FillPositive& fill_;
    ProofMaker* proof_;
    const WriteMeans& means_;
    std::int64_t strip_rows_ = 1, portion_rows_ = 1, at_once_ = 1;
    std::uint32_t next_strip_ = 0;
};

Result<void> write_rgb16(const std::string& path, PositiveSize size, const std::string& icc_bytes, Compression compression, PixelsPerMm resolution,
                         const PhotoMetadata& metadata, const FillPositive& fill, ProofMaker* proof, const WriteMeans& means) {
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
        if (auto written = StripWriter(size, compression, fill, proof, means).write(output); !written) return written;
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

Result<void> write_positive_tiff(const std::string& path, PositiveSize size, const FillPositive& fill, ProofMaker* proof, const std::string& icc_bytes,
                                 Compression compression, PixelsPerMm resolution, const PhotoMetadata& metadata, const WriteMeans& means) {
    return write_rgb16(path, size, icc_bytes, compression, resolution, metadata, fill, proof, means);
}

Result<void> write_positive_tiff(const std::string& path, View<const EncodedRgb16> picture, const std::string& icc_bytes, Compression compression,
                                 PixelsPerMm resolution, const PhotoMetadata& metadata) {
    const FillPositive copy = [&](std::int64_t y, View<EncodedRgb16> rows) -> Result<void> {
        for (std::int64_t k = 0; k < rows.height(); ++k) std::copy_n(picture.row(y + k), picture.width(), rows.row(k));
        return {};
    };
    return write_rgb16(path, {picture.width(), picture.height()}, icc_bytes, compression, resolution, metadata, copy, nullptr, {});
}

Result<void> write_density_tiff(const std::string& path, PositiveSize size, const FillDensity& fill, Compression compression, PixelsPerMm resolution,
                                const PhotoMetadata& metadata, const WriteMeans& means) {
    const FillPositive encoded = [&](std::int64_t y, View<EncodedRgb16> rows) -> Result<void> {
        Image<DensityRgbi> densities(rows.width(), rows.height());
        if (auto filled = fill(y, densities.view()); !filled) return filled;
        for (std::int64_t k = 0; k < rows.height(); ++k)
            std::transform(densities.row(k), densities.row(k) + rows.width(), rows.row(k), [](const DensityRgbi& d) {
                return EncodedRgb16{adx16(d.r), adx16(d.g), adx16(d.b)};
            });
        return {};
    };
    return write_rgb16(path, size, {}, compression, resolution, metadata, encoded, nullptr, means);
}

}  // namespace basefog
