// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/test_files.h"

#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::testing;

namespace {

/// Where the stored pixel (x, y) is shown, written out from the table of the Orientation tag in TIFF 6.0, section 8: the
/// tag says which sides of the picture the stored row 0 and column 0 are.
std::pair<std::int64_t, std::int64_t> shown_at(const TiffSpec& spec, std::int64_t x, std::int64_t y) {
    const std::int64_t w = spec.width, h = spec.height;
    const bool row0_is_top_or_bottom = spec.orientation <= 4;
    const bool row0_at_end = spec.orientation == 3 || spec.orientation == 4 || spec.orientation == 6 || spec.orientation == 7;     // bottom or right
    const bool column0_at_end = spec.orientation == 2 || spec.orientation == 3 || spec.orientation == 7 || spec.orientation == 8;  // right or bottom
    const std::int64_t along_rows = row0_at_end ? h - 1 - y : y, along_columns = column0_at_end ? w - 1 - x : x;
    return row0_is_top_or_bottom ? std::pair{along_columns, along_rows} : std::pair{along_rows, along_columns};
}

Image<LinearRgbi> read_all(ScanReader& reader) {
    Image<LinearRgbi> image(reader.info().width, reader.info().height, LinearRgbi{-1, -1, -1, -1});
    const auto read = reader.read_region({0, 0, image.width(), image.height()}, image.view());
    if (!read) FAIL(describe(read.error()));
    return image;
}

std::int64_t count_wrong(const TiffSpec& spec, const Image<LinearRgbi>& image) {
    std::int64_t wrong = 0;
    for (std::int64_t y = 0; y < spec.height; ++y)
        for (std::int64_t x = 0; x < spec.width; ++x) {
            const auto [sx, sy] = shown_at(spec, x, y);
            wrong += same(image(sx, sy), expected_pixel(spec, x, y)) ? 0 : 1;
        }
    return wrong;
}

void check_file(const std::string& path, const TiffSpec& spec) {
    CAPTURE(spec.compression, spec.predictor, spec.samples, spec.bits, spec.separate, spec.tile, spec.rows_per_strip, spec.big_endian, spec.big_tiff,
            spec.orientation);
    write_tiff(path, spec);
    auto reader = open_scan(path, linear_options());
    if (!reader) FAIL(describe(reader.error()));
    const bool turned = spec.orientation >= 5;
    REQUIRE((*reader)->info().width == (turned ? spec.height : spec.width));
    REQUIRE((*reader)->info().height == (turned ? spec.width : spec.height));
    const Image<LinearRgbi> image = read_all(**reader);
    REQUIRE(count_wrong(spec, image) == 0);
}

}  // namespace

TEST_CASE("every way of storing a TIFF gives back the exact samples") {
    const TestFolder folder;
    const std::vector<std::uint16_t> compressions{COMPRESSION_NONE,     COMPRESSION_LZW,  COMPRESSION_ADOBE_DEFLATE, COMPRESSION_DEFLATE,
                                                  COMPRESSION_PACKBITS, COMPRESSION_ZSTD, COMPRESSION_LZMA};
    for (const std::uint16_t compression : compressions)
        for (const int bits : {8, 16, 32})
            for (const int samples : {1, 2, 3, 4})
                for (const bool separate : {false, true})
                    for (const std::uint32_t tile : {0u, 16u})
                        for (const bool big_endian : {false, true}) {
                            TiffSpec spec;
                            spec.compression = compression;
                            spec.bits = bits;
                            spec.samples = samples;
                            spec.separate = separate;
                            spec.tile = tile;
                            spec.big_endian = big_endian;
                            const bool can_predict = compression != COMPRESSION_NONE && compression != COMPRESSION_PACKBITS;
                            if (can_predict && tile == 0) spec.predictor = bits == 32 ? 3 : 2;
                            if (spec.predictor == 3 && big_endian) continue;  // libtiff 4.5.0 writes these wrongly; see the next test
                            spec.big_tiff = samples == 3;
                            check_file(folder.file("matrix.tif"), spec);
                        }
}

TEST_CASE("floating-point prediction is the same in either byte order") {
    // Adobe Photoshop TIFF Technical Note 3: the predictor lays the bytes of a float out from the most significant one,
    // whatever the file's byte order. So the encoded strips of a little-endian file are those of a big-endian one.
    const TestFolder folder;
    TiffSpec spec;
    spec.bits = 32;
    spec.compression = COMPRESSION_ADOBE_DEFLATE;
    spec.predictor = 3;
    write_tiff(folder.file("little.tif"), spec);
    spec.big_endian = true;
    TIFF* in = TIFFOpen(folder.file("little.tif").c_str(), "r");
    TIFF* out = create_tiff(folder.file("big.tif"), spec);
    set_tags(out, spec);
    for (std::uint32_t strip = 0; strip < TIFFNumberOfStrips(in); ++strip) {
        std::vector<char> raw(TIFFRawStripSize64(in, strip));
        TIFFReadRawStrip(in, strip, raw.data(), static_cast<tmsize_t>(raw.size()));
        TIFFWriteRawStrip(out, strip, raw.data(), static_cast<tmsize_t>(raw.size()));
    }
    TIFFClose(in);
    TIFFClose(out);
    auto reader = open_scan(folder.file("big.tif"), linear_options());
    REQUIRE(reader);
    CHECK(count_wrong(spec, read_all(**reader)) == 0);
}

TEST_CASE("the orientation tag is obeyed for strips and tiles") {
    const TestFolder folder;
    for (int orientation = 1; orientation <= 8; ++orientation)
        for (const std::uint32_t tile : {0u, 32u})
            for (const int samples : {1, 3, 4}) {
                TiffSpec spec;
                spec.orientation = orientation;
                spec.tile = tile;
                spec.samples = samples;
                check_file(folder.file("turned.tif"), spec);
            }
}

TEST_CASE("the overview does not depend on the band") {
    const TestFolder folder;
    TiffSpec spec;
    spec.samples = 4;
    spec.x_resolution = spec.y_resolution = 1400;
    write_tiff(folder.file("a.tif"), spec);
    std::optional<Overview> first;
    for (const std::int64_t rows : {1, 5, 64}) {
        auto reader = open_scan(folder.file("a.tif"), linear_options());
        REQUIRE(reader);
        OverviewOptions options;
        options.band_rows = rows;
        auto overview = read_overview(**reader, options);
        REQUIRE(overview);
        REQUIRE(overview->factor == 4);
        REQUIRE(overview->pixels.width() == 16);
        if (!first) {
            first = std::move(*overview);
            continue;
        }
        CHECK(overview->digest == first->digest);
        CHECK(std::memcmp(overview->pixels.row(0), first->pixels.row(0), sizeof(LinearRgbi) * 16 * 12) == 0);
    }
}
