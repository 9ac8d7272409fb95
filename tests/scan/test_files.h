// SPDX-License-Identifier: GPL-3.0-or-later
// Small scans with known samples, written straight through libtiff, for the tests of the scan module.
#pragma once

#include "basefog/scan/reader.h"
#include "support/temporary_folder.h"

#include <tiffio.h>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <fstream>
#include <functional>
#include <iterator>
#include <memory>
#include <stdexcept>
#include <string>
#include <vector>

namespace basefog::testing {

using Bytes = std::vector<unsigned char>;
inline Bytes load(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}
inline void save(const std::string& path, const Bytes& bytes) {
    std::ofstream out(path, std::ios::binary);
    out.write(reinterpret_cast<const char*>(bytes.data()), static_cast<std::streamsize>(bytes.size()));
}

inline std::unique_ptr<ScanReader> opened(const std::string& path, const ScanOptions& options = {}) {
    auto reader = open_scan(path, options);
    if (!reader) throw std::runtime_error(describe(reader.error()));
    return std::move(*reader);
}

/// Starts from -1 everywhere, so that a pixel the reader leaves out shows.
inline Image<LinearRgbi> read_all(ScanReader& reader) {
    Image<LinearRgbi> image(reader.info().width, reader.info().height, LinearRgbi{-1, -1, -1, -1});
    const auto read = reader.read_region({0, 0, image.width(), image.height()}, image.view());
    if (!read) throw std::runtime_error(describe(read.error()));
    return image;
}

/// How a test file is stored.
struct TiffSpec {
    std::uint32_t width = 61, height = 45;  ///< odd, so that blocks reach over the edges
    int samples = 3;
    int bits = 16;  ///< 8, 16 or 32 (float)
    std::uint16_t compression = COMPRESSION_NONE;
    std::uint16_t predictor = 1;
    bool separate = false;
    std::uint32_t rows_per_strip = 7;
    std::uint32_t tile = 0;  ///< edge of tiles (a multiple of 16), 0 for strips
    bool big_endian = false, big_tiff = false;
    int orientation = 1;
    bool white_is_zero = false;
    int extra_kind = EXTRASAMPLE_UNSPECIFIED;
    float x_resolution = 0, y_resolution = 0;
    std::uint16_t resolution_unit = RESUNIT_INCH;
    bool write_unit = true;
    std::string date;
    std::vector<unsigned char> profile;
};

/// The code stored at a place, 0..1 for float. Different at every place and in every sample, with both ends present.
inline double code_at(const TiffSpec& spec, std::int64_t x, std::int64_t y, int sample) {
    const std::uint32_t h = static_cast<std::uint32_t>(x * 2654435761u) ^ static_cast<std::uint32_t>(y * 40503u * 2246822519u) ^
                            static_cast<std::uint32_t>((sample + 1) * 3266489917u);
    const std::uint32_t mixed = (h ^ (h >> 15)) * 2246822519u;
    const std::uint32_t code = x == 0 && y == 0 ? 0 : x == 1 && y == 0 ? 65535 : (mixed >> 16);
    if (spec.bits == 8) return static_cast<double>(code >> 8);
    if (spec.bits == 16) return static_cast<double>(code);
    return static_cast<double>(static_cast<float>(code) / 65535.0f);
}

using CodeAt = std::function<double(std::int64_t x, std::int64_t y, int sample)>;

inline void put(const TiffSpec& spec, double code, std::byte* to) {
    if (spec.bits == 8) {
        const auto v = static_cast<std::uint8_t>(code);
        std::memcpy(to, &v, 1);
    } else if (spec.bits == 16) {
        const auto v = static_cast<std::uint16_t>(code);
        std::memcpy(to, &v, 2);
    } else {
        const auto v = static_cast<float>(code);
        std::memcpy(to, &v, 4);
    }
}

inline void set_tags(TIFF* tiff, const TiffSpec& spec) {
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, spec.width);
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, spec.height);
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, spec.bits);
    TIFFSetField(tiff, TIFFTAG_SAMPLEFORMAT, spec.bits == 32 ? SAMPLEFORMAT_IEEEFP : SAMPLEFORMAT_UINT);
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, spec.samples);
    const int colours = spec.samples >= 3 ? 3 : 1;
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, colours == 3 ? PHOTOMETRIC_RGB : spec.white_is_zero ? PHOTOMETRIC_MINISWHITE : PHOTOMETRIC_MINISBLACK);
    if (spec.samples > colours) {
        const std::uint16_t kinds[1] = {static_cast<std::uint16_t>(spec.extra_kind)};
        TIFFSetField(tiff, TIFFTAG_EXTRASAMPLES, 1, kinds);
    }
    TIFFSetField(tiff, TIFFTAG_COMPRESSION, spec.compression);
    if (spec.predictor != 1) TIFFSetField(tiff, TIFFTAG_PREDICTOR, spec.predictor);
    TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, spec.separate ? PLANARCONFIG_SEPARATE : PLANARCONFIG_CONTIG);
    TIFFSetField(tiff, TIFFTAG_ORIENTATION, spec.orientation);
    if (spec.tile > 0) {
        TIFFSetField(tiff, TIFFTAG_TILEWIDTH, spec.tile);
        TIFFSetField(tiff, TIFFTAG_TILELENGTH, spec.tile);
    } else {
        TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, spec.rows_per_strip);
    }
    if (spec.x_resolution > 0 || spec.y_resolution > 0) {
        TIFFSetField(tiff, TIFFTAG_XRESOLUTION, static_cast<double>(spec.x_resolution));
        TIFFSetField(tiff, TIFFTAG_YRESOLUTION, static_cast<double>(spec.y_resolution));
        if (spec.write_unit) TIFFSetField(tiff, TIFFTAG_RESOLUTIONUNIT, spec.resolution_unit);
    }
    if (!spec.date.empty()) TIFFSetField(tiff, TIFFTAG_DATETIME, spec.date.c_str());
    if (!spec.profile.empty()) TIFFSetField(tiff, TIFFTAG_ICCPROFILE, static_cast<std::uint32_t>(spec.profile.size()), spec.profile.data());
}

/// Writes the blocks of the current page, each through libtiff's encoder.
inline void write_blocks(TIFF* tiff, const TiffSpec& spec, const CodeAt& code) {
    const std::int64_t bytes = spec.bits / 8;
    const std::int64_t width = spec.tile > 0 ? spec.tile : spec.width, height = spec.tile > 0 ? spec.tile : std::min(spec.rows_per_strip, spec.height);
    const std::int64_t across = (spec.width + width - 1) / width, down = (spec.height + height - 1) / height;
    const int planes = spec.separate ? spec.samples : 1, together = spec.separate ? 1 : spec.samples;
    std::vector<std::byte> block(static_cast<std::size_t>(width * height * together * bytes));
    for (int plane = 0; plane < planes; ++plane) {
        for (std::int64_t i = 0; i < across * down; ++i) {
            const std::int64_t x0 = i % across * width, y0 = i / across * height;
            const std::int64_t rows = spec.tile > 0 ? height : std::min<std::int64_t>(height, spec.height - y0);
            for (std::int64_t y = 0; y < rows; ++y)
                for (std::int64_t x = 0; x < width; ++x)
                    for (int s = 0; s < together; ++s) {
                        const bool inside = x0 + x < spec.width && y0 + y < spec.height;
                        put(spec, inside ? code(x0 + x, y0 + y, plane + s) : 0, block.data() + ((y * width + x) * together + s) * bytes);
                    }
            const auto index = static_cast<std::uint32_t>(plane * across * down + i);
            const tmsize_t size = rows * width * together * bytes;
            const tmsize_t put_bytes =
                spec.tile > 0 ? TIFFWriteEncodedTile(tiff, index, block.data(), size) : TIFFWriteEncodedStrip(tiff, index, block.data(), size);
            if (put_bytes != size) throw std::runtime_error("the test file could not be written");
        }
    }
}

inline TIFF* create_tiff(const std::string& path, const TiffSpec& spec) {
    TIFFSetWarningHandler(nullptr);  // it would remark on every file with the older number of Deflate
    const std::string mode = std::string("w") + (spec.big_endian ? "b" : "l") + (spec.big_tiff ? "8" : "4");
    TIFF* tiff = TIFFOpen(path.c_str(), mode.c_str());
    if (tiff == nullptr) throw std::runtime_error("the test file could not be created");
    return tiff;
}

inline void write_tiff(const std::string& path, const TiffSpec& spec, const CodeAt& code = {}) {
    TIFF* tiff = create_tiff(path, spec);
    set_tags(tiff, spec);
    write_blocks(
        tiff, spec, code ? code : [&](std::int64_t x, std::int64_t y, int s) { return code_at(spec, x, y, s); });
    TIFFClose(tiff);
}

/// The linear value of a code in a linear file.
inline float linear_of(const TiffSpec& spec, double code) {
    if (spec.bits == 32) return static_cast<float>(code);
    const double last = spec.bits == 8 ? 255 : 65535;
    return static_cast<float>((spec.white_is_zero ? last - code : code) / last);
}

inline LinearRgbi expected_pixel(const TiffSpec& spec, std::int64_t x, std::int64_t y) {
    const auto value = [&](int s) { return linear_of(spec, code_at(spec, x, y, s)); };
    if (spec.samples >= 3) return {value(0), value(1), value(2), spec.samples == 4 ? value(3) : 0};
    return {value(0), value(0), value(0), spec.samples == 2 ? value(1) : 0};
}

inline bool same(const LinearRgbi& a, const LinearRgbi& b) { return a.r == b.r && a.g == b.g && a.b == b.b && a.ir == b.ir; }

/// Stated linear, so that the expected pixels do not depend on what is assumed.
inline ScanOptions linear_options() {
    ScanOptions options;
    options.encoding = Encoding{Encoding::Kind::linear, 1.0};
    return options;
}

class RecordingObserver : public Observer {
public:
    void notice(const std::string& message) override { notices.push_back(message); }
    void progress(std::string_view, double done, double total) override { last_share = done / total; }
    [[nodiscard]] bool cancelled() const override { return cancel; }
    std::vector<std::string> notices;
    double last_share = 0;
    bool cancel = false;
};

}  // namespace basefog::testing
