// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/tiff_page.h"

#include "scan/constants.h"

#include <tiffio.h>
#include <cmath>
#include <cstdio>

namespace basefog::scan {
namespace {

constexpr const char* kExportHint = "export it as a TIFF of 16 bits, grey or RGB, uncompressed or with Deflate";

template <class T>
T tag(const TiffFile& file, std::uint32_t which, T otherwise) {
    T value = otherwise;
    return TIFFGetFieldDefaulted(file.handle(), which, &value) != 0 ? value : otherwise;
}

Failure unsupported(const TiffFile& file, const std::string& what, const char* hint = kExportHint) {
    return fail(ErrorCode::unsupported, what, file.file().path(), hint);
}

/// How many decoded bytes a stored one can stand for; 0 for a compression we do not take.
std::int64_t expansion(int compression) {
    switch (compression) {
        case COMPRESSION_NONE:
            return 1;
        case COMPRESSION_PACKBITS:
            return kExpansionPackBits;
        case COMPRESSION_LZW:
            return kExpansionLzw;
        case COMPRESSION_ADOBE_DEFLATE:
        case COMPRESSION_DEFLATE:
            return kExpansionDeflate;
        case COMPRESSION_JPEG:
            return kExpansionJpeg;
        case COMPRESSION_LZMA:
        case COMPRESSION_ZSTD:
            return kExpansionOther;
        default:
            return 0;
    }
}

Result<void> read_size(const TiffFile& file, const ScanOptions& options, TiffPage& page) {
    page.layout.width = tag<std::uint32_t>(file, TIFFTAG_IMAGEWIDTH, 0);
    page.layout.height = tag<std::uint32_t>(file, TIFFTAG_IMAGELENGTH, 0);
    if (page.layout.width < 1 || page.layout.height < 1) return file.failure("its header gives no width or height", "scan or export it again");
    if (page.layout.width > options.max_pixels / page.layout.height)
        return fail(ErrorCode::too_large,
                    "its header claims " + std::to_string(page.layout.width) + " x " + std::to_string(page.layout.height) + " pixels, above the limit of " +
                        std::to_string(options.max_pixels),
                    file.file().path(), "raise the limit if the file is sound");
    return {};
}

Result<void> read_samples(const TiffFile& file, TiffPage& page) {
    const int bits = tag<std::uint16_t>(file, TIFFTAG_BITSPERSAMPLE, 1), format = tag<std::uint16_t>(file, TIFFTAG_SAMPLEFORMAT, SAMPLEFORMAT_UINT);
    const bool integer = format == SAMPLEFORMAT_UINT || format == SAMPLEFORMAT_VOID;
    if (bits == 8 && integer)
        page.layout.type = SampleType::u8;
    else if (bits == 16 && integer)
        page.layout.type = SampleType::u16;
    else if (bits == 32 && format == SAMPLEFORMAT_IEEEFP)
        page.layout.type = SampleType::f32;
    else
        return unsupported(file, "has samples of " + std::to_string(bits) + " bits that are neither unsigned whole numbers nor 32-bit floating point");

    page.layout.samples = tag<std::uint16_t>(file, TIFFTAG_SAMPLESPERPIXEL, 1);
    page.separate = tag<std::uint16_t>(file, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG) == PLANARCONFIG_SEPARATE && page.layout.samples > 1;
    std::uint16_t extras = 0, *kinds = nullptr;
    TIFFGetFieldDefaulted(file.handle(), TIFFTAG_EXTRASAMPLES, &extras, &kinds);
    page.fourth_is_alpha = extras > 0 && kinds != nullptr && kinds[0] != EXTRASAMPLE_UNSPECIFIED;
    return {};
}

/// Grey or RGB, each with at most one sample more.
Result<void> read_colours(const TiffFile& file, TiffPage& page) {
    std::uint16_t photometric = 0;
    if (TIFFGetField(file.handle(), TIFFTAG_PHOTOMETRIC, &photometric) == 0) photometric = page.layout.samples >= 3 ? PHOTOMETRIC_RGB : PHOTOMETRIC_MINISBLACK;
    const bool jpeg = tag<std::uint16_t>(file, TIFFTAG_COMPRESSION, COMPRESSION_NONE) == COMPRESSION_JPEG;
    if (jpeg && photometric == PHOTOMETRIC_YCBCR && page.layout.samples == 3 && page.layout.type == SampleType::u8) {
        if (!page.separate) TIFFSetField(file.handle(), TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
        if (!page.separate) return {};
    }
    const bool grey = photometric == PHOTOMETRIC_MINISBLACK || photometric == PHOTOMETRIC_MINISWHITE;
    page.white_is_zero = photometric == PHOTOMETRIC_MINISWHITE;
    if (!grey && photometric != PHOTOMETRIC_RGB)
        return unsupported(file, "is neither grey nor RGB (photometric interpretation " + std::to_string(photometric) + ")");
    const int colours = grey ? 1 : 3;
    if (page.layout.samples != colours && page.layout.samples != colours + 1)
        return unsupported(
            file, "has " + std::to_string(page.layout.samples) + " samples per pixel; " + (grey ? "grey has 1, or 2" : "RGB has 3, or 4") + " with infrared");
    return {};
}

Result<void> read_blocks(const TiffFile& file, TiffPage& page) {
    const int compression = tag<std::uint16_t>(file, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
    if (expansion(compression) == 0 || TIFFIsCODECConfigured(static_cast<std::uint16_t>(compression)) == 0)
        return unsupported(file, "is compressed in a way this program does not read (TIFF compression " + std::to_string(compression) + ")");
    page.compressed = compression != COMPRESSION_NONE;
    page.lossy = compression == COMPRESSION_JPEG;
    page.tiled = TIFFIsTiled(file.handle()) != 0;
    if (page.tiled) {
        page.block_width = tag<std::uint32_t>(file, TIFFTAG_TILEWIDTH, 0);
        page.block_height = tag<std::uint32_t>(file, TIFFTAG_TILELENGTH, 0);
    } else {
        page.block_width = page.layout.width;
        page.block_height = std::min<std::int64_t>(tag<std::uint32_t>(file, TIFFTAG_ROWSPERSTRIP, UINT32_MAX), page.layout.height);
    }
    constexpr std::int64_t kMostTile = 1 << 20;  // an edge; tiles are a few hundred pixels wide, and the product stays in 64 bits
    if (page.block_width < 1 || page.block_height < 1 || (page.tiled && (page.block_width > kMostTile || page.block_height > kMostTile)))
        return file.failure("its header gives strips or tiles of an impossible size", "scan or export it again");
    const std::int64_t row = page.block_width * (page.separate ? bytes_of(page.layout.type) : page.layout.pixel_bytes());
    const auto claimed = static_cast<std::int64_t>(page.tiled ? TIFFTileSize64(file.handle()) : TIFFScanlineSize64(file.handle()));
    if (claimed != (page.tiled ? row * page.block_height : row))
        return file.failure("its header contradicts itself about the size of its rows", "scan or export it again");
    return {};
}

/// Every strip or tile must lie in the file and be large enough for what it should hold.
Result<void> check_data(const TiffFile& file, const TiffPage& page) {
    const int compression = tag<std::uint16_t>(file, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
    const std::int64_t across = (page.layout.width + page.block_width - 1) / page.block_width,
                       down = (page.layout.height + page.block_height - 1) / page.block_height;
    const std::int64_t blocks = across * down * (page.separate ? page.layout.samples : 1);
    const auto present = static_cast<std::int64_t>(page.tiled ? TIFFNumberOfTiles(file.handle()) : TIFFNumberOfStrips(file.handle()));
    if (present < blocks)
        return file.failure("its header lists " + std::to_string(present) + " strips or tiles where its size needs " + std::to_string(blocks),
                            "scan or export it again");
    const std::int64_t pixel = page.separate ? bytes_of(page.layout.type) : page.layout.pixel_bytes();
    for (std::int64_t i = 0; i < blocks; ++i) {
        const std::int64_t first_row = i / across % down * page.block_height;
        const std::int64_t rows = page.tiled ? page.block_height : std::min(page.block_height, page.layout.height - first_row);
        const std::int64_t needed = page.block_width * rows * pixel;
        const std::uint64_t offset = TIFFGetStrileOffset(file.handle(), static_cast<std::uint32_t>(i));
        const std::uint64_t stored = TIFFGetStrileByteCount(file.handle(), static_cast<std::uint32_t>(i));
        const auto size = static_cast<std::uint64_t>(file.file().size());
        const std::uint64_t wanted = page.compressed ? stored : std::min(stored, static_cast<std::uint64_t>(needed));
        const std::string place = "from row " + std::to_string(first_row) + " of " + std::to_string(page.layout.height);
        if (offset > size || wanted > size - offset)
            return fail(ErrorCode::malformed, "the file ends before its pixels do: they are missing " + place, file.file().path(),
                        "it was cut off: copy or scan it again");
        // A few bytes can decode to many, but not to any number: a slack of a kilobyte for headers and tables.
        if (offset == 0 || static_cast<std::int64_t>(std::min(stored, size)) < (needed - 1024) / expansion(compression) || stored == 0)
            return fail(ErrorCode::malformed, "its header claims more pixels than the file holds: data is missing " + place, file.file().path(),
                        "copy or scan it again");
    }
    return {};
}

void read_resolution(const TiffFile& file, TiffPage& page) {
    float x = 0, y = 0;
    if (TIFFGetField(file.handle(), TIFFTAG_XRESOLUTION, &x) == 0) return;
    if (TIFFGetField(file.handle(), TIFFTAG_YRESOLUTION, &y) == 0) y = x;
    const int unit = tag<std::uint16_t>(file, TIFFTAG_RESOLUTIONUNIT, RESUNIT_INCH);
    const double inches = unit == RESUNIT_INCH ? 1.0 : unit == RESUNIT_CENTIMETER ? kMmPerInch / 10 : 0.0;
    if (inches > 0) page.resolution = plausible_resolution(x * inches, y * inches, page.warnings);
}

void read_rest(const TiffFile& file, TiffPage& page) {
    page.orientation = tag<std::uint16_t>(file, TIFFTAG_ORIENTATION, ORIENTATION_TOPLEFT);
    char* date = nullptr;
    if (TIFFGetField(file.handle(), TIFFTAG_DATETIME, &date) != 0 && date != nullptr) page.date = iso_date(date);
    std::uint32_t count = 0;
    unsigned char* profile = nullptr;
    if (TIFFGetField(file.handle(), TIFFTAG_ICCPROFILE, &count, &profile) != 0 && profile != nullptr) page.profile.assign(profile, profile + count);
}

}  // namespace

Result<TiffPage> read_page(TiffFile& file, int index, const ScanOptions& options) {
    TiffPage page;
    page.index = index;
    if (auto done = read_size(file, options, page); !done) return Failure(done.error());
    if (auto done = read_samples(file, page); !done) return Failure(done.error());
    if (auto done = read_colours(file, page); !done) return Failure(done.error());
    if (auto done = read_blocks(file, page); !done) return Failure(done.error());
    if (auto done = check_data(file, page); !done) return Failure(done.error());
    read_resolution(file, page);
    read_rest(file, page);
    return page;
}

bool is_thumbnail(const TiffFile& file) { return (tag<std::uint32_t>(file, TIFFTAG_SUBFILETYPE, 0) & FILETYPE_REDUCEDIMAGE) != 0; }

std::string iso_date(const std::string& text) {
    int year = 0, month = 0, day = 0, hour = 0, minute = 0, second = 0;
    if (std::sscanf(text.c_str(), "%4d:%2d:%2d %2d:%2d:%2d", &year, &month, &day, &hour, &minute, &second) != 6) return {};
    if (year < 1900 || month < 1 || month > 12 || day < 1 || day > 31 || hour < 0 || hour > 23 || minute < 0 || minute > 59 || second < 0 || second > 60)
        return {};
    std::array<char, 32> iso{};
    std::snprintf(iso.data(), iso.size(), "%04d-%02d-%02dT%02d:%02d:%02d", year, month, day, hour, minute, second);
    return iso.data();
}

std::optional<PixelsPerMm> plausible_resolution(double x_dpi, double y_dpi, std::vector<std::string>& warnings) {
    const auto plausible = [](double dpi) { return dpi >= kLeastDpi && dpi <= kMostDpi; };  // not a number: false
    if (!plausible(x_dpi) || !plausible(y_dpi)) {
        if (x_dpi > 0 && y_dpi > 0) warnings.push_back("The resolution in the file cannot be that of a film scan and is ignored.");
        return std::nullopt;
    }
    if (std::abs(x_dpi / y_dpi - 1) > kUnequalResolution)
        warnings.push_back("The file gives different resolutions along and across; their mean is used, and lengths are that uncertain.");
    return px_per_mm_from_dpi((x_dpi + y_dpi) / 2);
}

}  // namespace basefog::scan
