// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/test_files.h"

#include <algorithm>
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
    const TemporaryFolder folder;
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
    // TIFF Technical Note 3 (2005): the predictor lays the bytes of a float out from the most significant one,
    // whatever the file's byte order. So the encoded strips of a little-endian file are those of a big-endian one.
    const TemporaryFolder folder;
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
    const TemporaryFolder folder;
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

TEST_CASE("white-is-zero files are turned round") {
    const TemporaryFolder folder;
    for (const int bits : {8, 16, 32}) {
        TiffSpec spec;
        spec.samples = 1;
        spec.bits = bits;
        spec.white_is_zero = true;
        if (bits == 32) {
            write_tiff(folder.file("w.tif"), spec);
            auto reader = open_scan(folder.file("w.tif"), linear_options());
            REQUIRE(reader);
            CHECK(read_all(**reader)(5, 6).g == 1.0f - static_cast<float>(code_at(spec, 5, 6, 0)));
        } else {
            check_file(folder.file("w.tif"), spec);
        }
    }
}

TEST_CASE("regions are parts of the whole, for every orientation and layout") {
    const TemporaryFolder folder;
    for (int orientation = 1; orientation <= 8; ++orientation)
        for (const std::uint32_t tile : {0u, 16u}) {
            TiffSpec spec;
            spec.orientation = orientation;
            spec.tile = tile;
            spec.samples = 4;
            spec.compression = COMPRESSION_LZW;
            write_tiff(folder.file("a.tif"), spec);
            auto reader = open_scan(folder.file("a.tif"), linear_options());
            REQUIRE(reader);
            CHECK((*reader)->access() == Access::random);
            const Image<LinearRgbi> whole = read_all(**reader);
            for (const PxRect rect :
                 {PxRect{0, 0, 1, 1}, PxRect{13, 7, 40, 44}, PxRect{whole.width() - 1, 0, whole.width(), whole.height()}, PxRect{3, 17, 44, 18}}) {
                // Into a part of a larger image, whose other pixels must stay.
                Image<LinearRgbi> image(rect.width() + 4, rect.height() + 2, LinearRgbi{-1, -1, -1, -1});
                REQUIRE((*reader)->read_region(rect, image.view().part(3, 1, rect.width(), rect.height())));
                std::int64_t wrong = 0;
                for (std::int64_t y = 0; y < image.height(); ++y)
                    for (std::int64_t x = 0; x < image.width(); ++x) {
                        const std::int64_t rx = x - 3, ry = y - 1;
                        const bool inside = rx >= 0 && ry >= 0 && rx < rect.width() && ry < rect.height();
                        const LinearRgbi expected = inside ? whole(rect.x0 + rx, rect.y0 + ry) : LinearRgbi{-1, -1, -1, -1};
                        wrong += same(image(x, y), expected) ? 0 : 1;
                    }
                CHECK(wrong == 0);
            }
        }
}

TEST_CASE("infrared is the sample after the colours whatever its label, unless ignored") {
    const TemporaryFolder folder;
    for (const int kind : {EXTRASAMPLE_UNSPECIFIED, EXTRASAMPLE_ASSOCALPHA, EXTRASAMPLE_UNASSALPHA}) {
        TiffSpec spec;
        spec.samples = 4;
        spec.extra_kind = kind;
        check_file(folder.file("a.tif"), spec);
        auto reader = open_scan(folder.file("a.tif"), linear_options());
        REQUIRE(reader);
        CHECK((*reader)->info().has_infrared);
        CHECK((*reader)->info().infrared_from == "fourth sample");
        const auto& warnings = (*reader)->info().warnings;
        const bool told = std::any_of(warnings.begin(), warnings.end(), [](const std::string& w) { return w.find("transparency") != std::string::npos; });
        CHECK(told == (kind != EXTRASAMPLE_UNSPECIFIED));
        ScanOptions ignoring = linear_options();
        ignoring.ignore_infrared = true;
        auto without = open_scan(folder.file("a.tif"), ignoring);
        REQUIRE(without);
        CHECK_FALSE((*without)->info().has_infrared);
        CHECK(read_all(**without)(5, 5).ir == 0);
    }
}

TEST_CASE("resolution and date are read, and leftovers are not believed") {
    const TemporaryFolder folder;
    const auto info_of = [&](float x, float y, std::uint16_t unit, bool write_unit = true, std::optional<double> option = std::nullopt) {
        TiffSpec spec;
        spec.x_resolution = x;
        spec.y_resolution = y;
        spec.resolution_unit = unit;
        spec.write_unit = write_unit;
        spec.date = "2025:09:27 18:01:02";
        write_tiff(folder.file("a.tif"), spec);
        ScanOptions options = linear_options();
        options.dpi = option;
        auto reader = open_scan(folder.file("a.tif"), options);
        REQUIRE(reader);
        return (*reader)->info();
    };
    const auto dpi_of = [&](float x, float y, std::uint16_t unit, bool write_unit = true) {
        const ScanInfo info = info_of(x, y, unit, write_unit);
        return info.resolution ? dpi_from_px_per_mm(*info.resolution) : 0.0;
    };
    CHECK(dpi_of(3200, 3200, RESUNIT_INCH) == Approx(3200));
    CHECK(dpi_of(3200, 3200, RESUNIT_INCH, false) == Approx(3200));  // inch is TIFF's default
    CHECK(dpi_of(1000, 1000, RESUNIT_CENTIMETER) == Approx(2540));
    CHECK(dpi_of(3200, 3200, RESUNIT_NONE) == 0);
    CHECK(dpi_of(72, 72, RESUNIT_NONE) == 0);
    CHECK(dpi_of(1, 1, RESUNIT_NONE) == 0);
    CHECK(dpi_of(72, 72, RESUNIT_INCH) == 0);
    CHECK(dpi_of(1e9f, 1e9f, RESUNIT_INCH) == 0);
    CHECK(dpi_of(0, 0, RESUNIT_INCH) == 0);
    CHECK(dpi_of(2400, 4800, RESUNIT_INCH) == Approx(3600));
    CHECK_FALSE(info_of(2400, 4800, RESUNIT_INCH).warnings.empty());
    CHECK(info_of(2400, 2400, RESUNIT_INCH).warnings.empty());
    CHECK(info_of(2400, 2400, RESUNIT_INCH).resolution_origin == Origin::file);
    CHECK(info_of(2400, 2400, RESUNIT_INCH).date == "2025-09-27T18:01:02");
    const ScanInfo stated = info_of(2400, 2400, RESUNIT_INCH, true, 1200);
    CHECK(dpi_from_px_per_mm(*stated.resolution) == Approx(1200));
    CHECK(stated.resolution_origin == Origin::option);
}

TEST_CASE("float samples that are no numbers become dark or full, and brighter ones are kept") {
    const TemporaryFolder folder;
    TiffSpec spec;
    spec.bits = 32;
    spec.samples = 1;
    spec.width = 5;
    spec.height = 1;
    const double values[5] = {std::nan(""), std::numeric_limits<double>::infinity(), -std::numeric_limits<double>::infinity(), 3.5, 0.25};
    write_tiff(folder.file("a.tif"), spec, [&](std::int64_t x, std::int64_t, int) { return values[x]; });
    auto reader = open_scan(folder.file("a.tif"), linear_options());
    REQUIRE(reader);
    const Image<LinearRgbi> image = read_all(**reader);
    CHECK(image(0, 0).r == 0.0f);
    CHECK(image(1, 0).r == 1.0f);
    CHECK(image(2, 0).r == 0.0f);
    CHECK(image(3, 0).r == 3.5f);
    CHECK(image(4, 0).r == 0.25f);
    REQUIRE((*reader)->info().warnings.size() == 1);
    CHECK((*reader)->info().warnings[0].find("no finite numbers") != std::string::npos);

    write_tiff(folder.file("sound.tif"), spec, [&](std::int64_t x, std::int64_t, int) { return x == 0 ? 0.0 : 3.5; });
    auto sound = open_scan(folder.file("sound.tif"), linear_options());
    REQUIRE(sound);
    read_all(**sound);
    CHECK((*sound)->info().warnings.empty());
}

TEST_CASE("JPEG inside a TIFF is read as RGB and told as lossy") {
    const TemporaryFolder folder;
    for (const std::uint32_t rows : {16u, 256u})  // by strips, and by rows with little memory
        for (const bool luma_and_chroma : {false, true}) {
            TiffSpec spec;
            spec.width = 256;
            spec.height = 256;
            spec.bits = 8;
            spec.compression = COMPRESSION_JPEG;
            spec.rows_per_strip = rows;
            TIFF* tiff = create_tiff(folder.file("a.tif"), spec);
            set_tags(tiff, spec);
            if (luma_and_chroma) {
                TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_YCBCR);
                TIFFSetField(tiff, TIFFTAG_JPEGCOLORMODE, JPEGCOLORMODE_RGB);
            }
            TIFFSetField(tiff, TIFFTAG_JPEGQUALITY, 95);
            write_blocks(tiff, spec, [](std::int64_t x, std::int64_t y, int s) { return static_cast<double>(s == 0 ? x : s == 1 ? y : (x + y) / 2); });
            TIFFClose(tiff);
            ScanOptions options = linear_options();
            options.memory_bytes = 128 * 1024;
            auto reader = open_scan(folder.file("a.tif"), options);
            if (!reader) FAIL(describe(reader.error()));
            CHECK((*reader)->info().lossy);
            const Image<LinearRgbi> image = read_all(**reader);
            float worst = 0;
            for (std::int64_t y = 0; y < 256; ++y)
                for (std::int64_t x = 0; x < 256; ++x)
                    worst = std::max({worst, std::abs(image(x, y).r * 255 - static_cast<float>(x)), std::abs(image(x, y).g * 255 - static_cast<float>(y))});
            CHECK(worst < 8.0f);  // ramps at quality 95, chroma at half resolution: a few codes of loss
        }
}
