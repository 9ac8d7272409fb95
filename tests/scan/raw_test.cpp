// SPDX-License-Identifier: GPL-3.0-or-later
// RAW: digital negatives written here from the published DNG 1.4 specification, of a camera that does not exist.
#include "scan/test_files.h"

#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::testing;

namespace {

constexpr std::uint32_t kWidth = 96, kHeight = 64;
constexpr std::uint16_t kLinearRaw = 34892;  // PhotometricInterpretation "LinearRaw" of DNG 1.4
constexpr float kBlack = 512;
constexpr std::uint32_t kWhite = 16000;
/// LibRaw keeps 16 bits; subtraction of black and scaling round once each.
constexpr double kRawTolerance = 2.0 / 65535;

void set_camera(TIFF* tiff) {
    const std::uint8_t version[4] = {1, 4, 0, 0}, backward[4] = {1, 1, 0, 0};
    TIFFSetField(tiff, TIFFTAG_DNGVERSION, version);
    TIFFSetField(tiff, TIFFTAG_DNGBACKWARDVERSION, backward);
    TIFFSetField(tiff, TIFFTAG_MAKE, "Invented");
    TIFFSetField(tiff, TIFFTAG_MODEL, "Copy stand");
    TIFFSetField(tiff, TIFFTAG_UNIQUECAMERAMODEL, "Invented copy stand");
    TIFFSetField(tiff, TIFFTAG_DATETIME, "2025:11:02 10:20:30");
    const float matrix[9] = {0.9f, -0.2f, -0.1f, -0.4f, 1.2f, 0.2f, -0.1f, 0.2f, 0.7f};
    TIFFSetField(tiff, TIFFTAG_COLORMATRIX1, 9, matrix);
    TIFFSetField(tiff, TIFFTAG_CALIBRATIONILLUMINANT1, 21);  // D65
    const float neutral[3] = {0.5f, 1.0f, 0.7f};             // a white balance that must not be applied
    TIFFSetField(tiff, TIFFTAG_ASSHOTNEUTRAL, 3, neutral);
}

void set_picture(TIFF* tiff, int samples, int orientation) {
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, kWidth);
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, kHeight);
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 16);
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, samples);
    TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    TIFFSetField(tiff, TIFFTAG_COMPRESSION, COMPRESSION_NONE);
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, kHeight);
    TIFFSetField(tiff, TIFFTAG_ORIENTATION, orientation);
    TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, 0);
}

void write_rows(TIFF* tiff, int samples, const std::function<std::uint16_t(std::uint32_t x, std::uint32_t y, int s)>& value) {
    std::vector<std::uint16_t> row(kWidth * static_cast<std::uint32_t>(samples));
    for (std::uint32_t y = 0; y < kHeight; ++y) {
        for (std::uint32_t x = 0; x < kWidth; ++x)
            for (int s = 0; s < samples; ++s) row[x * static_cast<std::uint32_t>(samples) + static_cast<std::uint32_t>(s)] = value(x, y, s);
        TIFFWriteScanline(tiff, row.data(), y, 0);
    }
}

TIFF* create(const std::string& path) {
    TIFF* tiff = TIFFOpen(path.c_str(), "wl");
    if (tiff == nullptr) throw std::runtime_error("the test file could not be created");
    return tiff;
}

void write_mosaic(const std::string& path, const std::function<std::uint16_t(std::uint32_t x, std::uint32_t y, int colour)>& value, int orientation = 1) {
    TIFF* tiff = create(path);
    set_picture(tiff, 1, orientation);
    set_camera(tiff);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_CFA);
    const std::uint16_t repeat[2] = {2, 2};
    const std::uint8_t pattern[4] = {0, 1, 1, 2};  // red, green / green, blue
    TIFFSetField(tiff, TIFFTAG_CFAREPEATPATTERNDIM, repeat);
    TIFFSetField(tiff, TIFFTAG_CFAPATTERN, 4, pattern);
    const float black[1] = {kBlack};
    TIFFSetField(tiff, TIFFTAG_BLACKLEVEL, 1, black);
    const std::uint32_t white[1] = {kWhite};
    TIFFSetField(tiff, TIFFTAG_WHITELEVEL, 1, white);
    write_rows(tiff, 1, [&](std::uint32_t x, std::uint32_t y, int) { return value(x, y, pattern[y % 2 * 2 + x % 2]); });
    TIFFClose(tiff);
}

double linear(double code) { return std::min(1.0, (code - static_cast<double>(kBlack)) / (kWhite - static_cast<double>(kBlack))); }

}  // namespace

TEST_CASE("a mosaic becomes the sensor's linear light, without white balance or curve") {
    const TemporaryFolder folder;
    const double codes[3] = {3000, 9000, 5500};
    write_mosaic(folder.file("a.dng"), [&](std::uint32_t, std::uint32_t, int colour) { return static_cast<std::uint16_t>(codes[colour]); });
    const auto reader = opened(folder.file("a.dng"));
    CHECK(reader->info().kind == FileKind::raw);
    CHECK(reader->info().width == kWidth);
    CHECK(reader->info().height == kHeight);
    CHECK(reader->info().colour_channels == 3);
    CHECK(reader->info().encoding == Encoding{Encoding::Kind::linear, 1.0});
    CHECK(reader->info().encoding_origin == Origin::file);
    CHECK(reader->info().date == "2025-11-02T10:20:30");
    const Image<LinearRgbi> image = read_all(*reader);
    for (const auto& [x, y] : {std::pair{48, 32}, std::pair{20, 41}, std::pair{7, 9}, std::pair{0, 0}}) {
        CHECK(static_cast<double>(image(x, y).r) == Approx(linear(codes[0])).margin(kRawTolerance));
        CHECK(static_cast<double>(image(x, y).g) == Approx(linear(codes[1])).margin(kRawTolerance));
        CHECK(static_cast<double>(image(x, y).b) == Approx(linear(codes[2])).margin(kRawTolerance));
        CHECK(image(x, y).ir == 0);
    }
}

TEST_CASE("saturation is 1 and black is 0, whatever the picture reaches") {
    const TemporaryFolder folder;
    for (const std::uint16_t level : {std::uint16_t{512}, std::uint16_t{4000}, std::uint16_t{16000}, std::uint16_t{20000}}) {
        write_mosaic(folder.file("a.dng"), [&](std::uint32_t, std::uint32_t, int) { return level; });
        const auto reader = opened(folder.file("a.dng"));
        const Image<LinearRgbi> image = read_all(*reader);
        CHECK(static_cast<double>(image(50, 30).g) == Approx(linear(level)).margin(kRawTolerance));
        CHECK(static_cast<double>(image(51, 31).r) == Approx(linear(level)).margin(kRawTolerance));
    }
}

TEST_CASE("a ramp stays a ramp: the interpolation keeps linear light linear") {
    const TemporaryFolder folder;
    write_mosaic(folder.file("a.dng"), [&](std::uint32_t x, std::uint32_t, int) { return static_cast<std::uint16_t>(1000 + 100 * x); });
    const Image<LinearRgbi> image = read_all(*opened(folder.file("a.dng")));
    // Interpolation between neighbours one column away reproduces a ramp but for rounding and its own median step.
    for (int x = 10; x < 86; ++x) CHECK(static_cast<double>(image(x, 30).g) == Approx(linear(1000 + 100 * x)).margin(0.001));
}

TEST_CASE("a linear negative gives back its samples, turned as it asks") {
    const TemporaryFolder folder;
    for (const int orientation : {1, 3, 6, 8}) {
        CAPTURE(orientation);
        TIFF* tiff = create(folder.file("linear.dng"));
        set_picture(tiff, 3, orientation);
        set_camera(tiff);
        TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, kLinearRaw);
        const std::uint32_t white[3] = {kWhite, kWhite, kWhite};
        TIFFSetField(tiff, TIFFTAG_WHITELEVEL, 3, white);
        const auto value = [](std::uint32_t x, std::uint32_t y, int s) {
            return static_cast<std::uint16_t>(600 + 37 * x + 91 * y + 1500 * static_cast<std::uint32_t>(s));
        };
        write_rows(tiff, 3, value);
        TIFFClose(tiff);
        const auto reader = opened(folder.file("linear.dng"));
        REQUIRE(reader->info().width == (orientation >= 5 ? kHeight : kWidth));
        const Image<LinearRgbi> image = read_all(*reader);
        double worst = 0;
        for (std::uint32_t y = 0; y < kHeight; ++y)
            for (std::uint32_t x = 0; x < kWidth; ++x) {
                const auto sx = orientation == 1 ? x : orientation == 3 ? kWidth - 1 - x : orientation == 6 ? kHeight - 1 - y : y;
                const auto sy = orientation == 1 ? y : orientation == 3 ? kHeight - 1 - y : orientation == 6 ? x : kWidth - 1 - x;
                const LinearRgbi& p = image(sx, sy);
                worst = std::max({worst, std::abs(static_cast<double>(p.r) - value(x, y, 0) / double{kWhite}),
                                  std::abs(static_cast<double>(p.g) - value(x, y, 1) / double{kWhite}),
                                  std::abs(static_cast<double>(p.b) - value(x, y, 2) / double{kWhite})});
            }
        CHECK(worst < kRawTolerance);
    }
}

TEST_CASE("a negative that holds only a small picture is refused") {
    const TemporaryFolder folder;
    TIFF* tiff = create(folder.file("thumbnail.dng"));
    set_picture(tiff, 3, 1);
    TIFFSetField(tiff, TIFFTAG_SUBFILETYPE, FILETYPE_REDUCEDIMAGE);
    set_camera(tiff);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
    write_rows(tiff, 3, [](std::uint32_t x, std::uint32_t y, int) { return static_cast<std::uint16_t>(x * y); });
    TIFFClose(tiff);
    const auto reader = open_scan(folder.file("thumbnail.dng"), {});
    REQUIRE_FALSE(reader);
    CHECK(reader.error().code == ErrorCode::unsupported);
    CHECK(reader.error().what.find("sensor data") != std::string::npos);
}

TEST_CASE("a negative cut off before its data's end is an error when read") {
    const TemporaryFolder folder;
    write_mosaic(folder.file("a.dng"), [](std::uint32_t x, std::uint32_t y, int) { return static_cast<std::uint16_t>(600 + x * y); });
    // The directory is at the end of what libtiff writes, so a file with its data missing has it in front: damage instead.
    std::filesystem::resize_file(folder.file("a.dng"), std::filesystem::file_size(folder.file("a.dng")) / 2);
    const auto reader = open_scan(folder.file("a.dng"), {});
    REQUIRE_FALSE(reader);
    CHECK(reader.error().code == ErrorCode::malformed);
}
