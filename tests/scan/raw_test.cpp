// SPDX-License-Identifier: GPL-3.0-or-later
// RAW: digital negatives written from the published specification [DNG14], of a camera that does not exist.
#include "scan/test_files.h"
#include "support/dng_file.h"
#include "support/synthetic_random.h"

#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::testing;

namespace {

constexpr std::uint32_t kWidth = 96, kHeight = 64;
constexpr double kBlack = 512, kWhite = 16000;
/// LibRaw keeps 16 bits; subtraction of black and scaling round once each.
constexpr double kRawTolerance = 2.0 / 65535;
/// Of the light: a mosaic's colours are interpolated as densities, written to .02 %.
constexpr double kMosaicTolerance = 2e-4;

using synthetic::DngSpec;
using synthetic::write_dng;

double linear(double code, double black = kBlack) { return std::clamp((code - black) / (kWhite - black), 0.0, 1.0); }

}  // namespace

TEST_CASE("a mosaic becomes the sensor's linear light, without white balance or curve") {
    const TemporaryFolder folder;
    const double codes[3] = {3000, 9000, 5500};
    write_dng(folder.file("a.dng"), {}, [&](std::uint32_t, std::uint32_t, int colour) { return static_cast<std::uint16_t>(codes[colour]); });
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
        CHECK(static_cast<double>(image(x, y).r) == Approx(linear(codes[0])).epsilon(kMosaicTolerance).margin(kRawTolerance));
        CHECK(static_cast<double>(image(x, y).g) == Approx(linear(codes[1])).epsilon(kMosaicTolerance).margin(kRawTolerance));
        CHECK(static_cast<double>(image(x, y).b) == Approx(linear(codes[2])).epsilon(kMosaicTolerance).margin(kRawTolerance));
        CHECK(image(x, y).ir == 0);
    }
}

TEST_CASE("saturation is 1 and black is 0, whatever the picture reaches") {
    const TemporaryFolder folder;
    for (const std::uint16_t level : {std::uint16_t{512}, std::uint16_t{4000}, std::uint16_t{16000}, std::uint16_t{20000}}) {
        write_dng(folder.file("a.dng"), {}, [&](std::uint32_t, std::uint32_t, int) { return level; });
        const auto reader = opened(folder.file("a.dng"));
        const Image<LinearRgbi> image = read_all(*reader);
        CHECK(static_cast<double>(image(50, 30).g) == Approx(linear(level)).epsilon(kMosaicTolerance).margin(kRawTolerance));
        CHECK(static_cast<double>(image(51, 31).r) == Approx(linear(level)).epsilon(kMosaicTolerance).margin(kRawTolerance));
    }
}

TEST_CASE("a ramp stays a ramp: the interpolation keeps linear light linear") {
    const TemporaryFolder folder;
    write_dng(folder.file("a.dng"), {}, [](std::uint32_t x, std::uint32_t, int) { return static_cast<std::uint16_t>(1000 + 100 * x); });
    const Image<LinearRgbi> image = read_all(*opened(folder.file("a.dng")));
    // Interpolation between neighbours one column away reproduces a ramp but for rounding and its own median step.
    for (int x = 10; x < 86; ++x) CHECK(static_cast<double>(image(x, 30).g) == Approx(linear(1000 + 100 * x)).margin(0.001));
}

TEST_CASE("a linear negative gives back its samples, turned as it asks") {
    const TemporaryFolder folder;
    for (const int orientation : {1, 3, 6, 8}) {
        CAPTURE(orientation);
        DngSpec spec;
        spec.linear = true;
        spec.orientation = orientation;
        const auto value = [](std::uint32_t x, std::uint32_t y, int s) {
            return static_cast<std::uint16_t>(600 + 37 * x + 91 * y + 1500 * static_cast<std::uint32_t>(s));
        };
        write_dng(folder.file("linear.dng"), spec, value);
        const auto reader = opened(folder.file("linear.dng"));
        REQUIRE(reader->info().width == (orientation >= 5 ? kHeight : kWidth));
        const Image<LinearRgbi> image = read_all(*reader);
        double worst = 0;
        for (std::uint32_t y = 0; y < kHeight; ++y)
            for (std::uint32_t x = 0; x < kWidth; ++x) {
                const auto sx = orientation == 1 ? x : orientation == 3 ? kWidth - 1 - x : orientation == 6 ? kHeight - 1 - y : y;
                const auto sy = orientation == 1 ? y : orientation == 3 ? kHeight - 1 - y : orientation == 6 ? x : kWidth - 1 - x;
                const LinearRgbi& p = image(sx, sy);
                worst = std::max({worst, std::abs(static_cast<double>(p.r) - value(x, y, 0) / kWhite),
                                  std::abs(static_cast<double>(p.g) - value(x, y, 1) / kWhite), std::abs(static_cast<double>(p.b) - value(x, y, 2) / kWhite)});
            }
        CHECK(worst < kRawTolerance);
    }
}

TEST_CASE("each place of the mosaic has its own black, and the colours may start anywhere") {
    const TemporaryFolder folder;
    // Blue first; and a dark border that the active area leaves out. Two wide and two high, so that the mosaic starts alike.
    DngSpec spec;
    spec.pattern = {2, 1, 1, 0};
    spec.black = {400, 500, 520, 610};
    spec.active_area = {2, 4, kHeight, kWidth};
    const double light[3] = {0.2, 0.5, 0.03};
    write_dng(folder.file("a.dng"), spec, [&](std::uint32_t x, std::uint32_t y, int colour) {
        if (x < 4 || y < 2) return std::uint16_t{3};
        const double black = static_cast<double>(spec.black[y % 2 * 2 + x % 2]);
        return static_cast<std::uint16_t>(std::lround(black + light[colour] * (kWhite - 610)));
    });
    const auto reader = opened(folder.file("a.dng"));
    CHECK(reader->info().width == kWidth - 4);
    CHECK(reader->info().height == kHeight - 2);
    const Image<LinearRgbi> image = read_all(*reader);
    // One range for all places: from the highest black to saturation.
    for (const auto& [x, y] : {std::pair{0, 0}, std::pair{31, 30}, std::pair{70, 9}}) {
        CHECK(static_cast<double>(image(x, y).r) == Approx(light[0]).epsilon(0.002));
        CHECK(static_cast<double>(image(x, y).g) == Approx(light[1]).epsilon(0.002));
        CHECK(static_cast<double>(image(x, y).b) == Approx(light[2]).epsilon(0.002));
        // What matters for densities is the proportion.
        CHECK(static_cast<double>(image(x, y).b / image(x, y).g) == Approx(light[2] / light[1]).epsilon(0.002));
        CHECK(static_cast<double>(image(x, y).r / image(x, y).g) == Approx(light[0] / light[1]).epsilon(0.002));
    }
}

TEST_CASE("along an edge of dense film no colour is lost") {
    const TemporaryFolder folder;
    // Blue a hundredth of green on one side, as on dense negatives, and an edge across which both change by as much of their density.
    const std::array<double, 3> clear{0.5, 0.4, 0.05}, dense{0.3, 0.05, 0.0005};
    const auto light = [&](double x, double y, std::size_t c) {
        const double t = 0.5 * (1 + std::tanh((x - 40.3 - 0.21 * y) / 1.2));
        return std::exp((1 - t) * std::log(clear[c]) + t * std::log(dense[c]));
    };
    write_dng(folder.file("a.dng"), {}, [&](std::uint32_t x, std::uint32_t y, int colour) {
        return static_cast<std::uint16_t>(std::lround(kBlack + (kWhite - kBlack) * light(x, y, static_cast<std::size_t>(colour))));
    });
    const Image<LinearRgbi> image = read_all(*opened(folder.file("a.dng")));
    double worst = 0;
    for (std::uint32_t y = 6; y < kHeight - 6; ++y)
        for (std::uint32_t x = 6; x < kWidth - 6; ++x) worst = std::max(worst, std::abs(std::log10(static_cast<double>(image(x, y).b) / light(x, y, 2))));
    // Two densities within four pixels: half a pixel's error is a quarter of one.
    CHECK(worst < 0.25);
}

TEST_CASE("noise about black averages to none") {
    const TemporaryFolder folder;
    write_dng(folder.file("a.dng"), {}, [](std::uint32_t x, std::uint32_t y, int) {
        const double noise = 12 * synthetic::normal_from(synthetic::mix(5, x, y));
        return static_cast<std::uint16_t>(std::lround(kBlack + noise));
    });
    const Image<LinearRgbi> image = read_all(*opened(folder.file("a.dng")));
    double sum = 0, least = 0;
    for (std::int64_t y = 0; y < image.height(); ++y)
        for (std::int64_t x = 0; x < image.width(); ++x) sum += static_cast<double>(image(x, y).g), least = std::min(least, static_cast<double>(image(x, y).g));
    CHECK(least < -12 / (kWhite - kBlack));
    // Cut off at black, it would be two fifths of the deviation.
    CHECK(std::abs(sum / (double{kWidth} * kHeight)) < 0.06 * 12 / (kWhite - kBlack));
}

TEST_CASE("a mosaic of a known negative comes out with its densities") {
    const TemporaryFolder folder;
    // A smooth wedge of dye on an orange base, under light that nearly fills the scale.
    const std::array<double, 3> lamp{0.95, 0.9, 0.7}, base{0.25, 0.65, 0.95}, gamma{0.9, 1.0, 1.1};
    const auto density = [&](std::uint32_t x, std::uint32_t y, std::size_t c) {
        return base[c] + gamma[c] * (0.9 * x / double{kWidth} + 0.2 * std::sin(y * 0.1));
    };
    write_dng(folder.file("a.dng"), {}, [&](std::uint32_t x, std::uint32_t y, int colour) {
        const auto c = static_cast<std::size_t>(colour);
        return static_cast<std::uint16_t>(std::lround(kBlack + (kWhite - kBlack) * lamp[c] * std::pow(10, -density(x, y, c))));
    });
    const Image<LinearRgbi> image = read_all(*opened(folder.file("a.dng")));
    std::vector<double> off;
    for (std::uint32_t y = 6; y < kHeight - 6; ++y)
        for (std::uint32_t x = 6; x < kWidth - 6; ++x) {
            const LinearRgbi& p = image(x, y);
            const std::array<float, 3> seen{p.r, p.g, p.b};
            for (std::size_t c = 0; c < 3; ++c) off.push_back(std::abs(-std::log10(static_cast<double>(seen[c]) / lamp[c]) - density(x, y, c)));
        }
    std::sort(off.begin(), off.end());
    // A code of the densest blue is .006 of density; interpolation borrows from neighbours a code or two off.
    CHECK(off[off.size() / 2] < 0.002);
    CHECK(off.back() < 0.02);
}

TEST_CASE("stuck pixels take their neighbours' light, and nothing else does") {
    const TemporaryFolder folder;
    const auto sound = [](std::uint32_t x, std::uint32_t y, int colour) { return 2000.0 + 20 * x + 11 * y + 900.0 * colour; };
    const std::vector<std::pair<std::uint32_t, std::uint32_t>> hot{{20, 20}, {41, 31}, {60, 13}}, dead{{30, 40}, {75, 50}};
    const auto code = [&](bool stuck) {
        return [&, stuck](std::uint32_t x, std::uint32_t y, int colour) {
            if (stuck && std::find(hot.begin(), hot.end(), std::pair(x, y)) != hot.end()) return static_cast<std::uint16_t>(kWhite);
            if (stuck && std::find(dead.begin(), dead.end(), std::pair(x, y)) != dead.end()) return static_cast<std::uint16_t>(kBlack);
            // A star: a point as sharp as a lens makes it, over several pixels of every colour; and an edge.
            const double dx = x - 50.0, dy = y - 45.0, star = 6000 * std::exp(-(dx * dx + dy * dy) / (2 * 0.6 * 0.6));
            return static_cast<std::uint16_t>((y > 55 ? 0.3 : 1.0) * sound(x, y, colour) + star);
        };
    };
    write_dng(folder.file("sound.dng"), {}, code(false));
    write_dng(folder.file("stuck.dng"), {}, code(true));
    const Image<LinearRgbi> with = read_all(*opened(folder.file("stuck.dng"))), without = read_all(*opened(folder.file("sound.dng")));
    double worst = 0;
    for (std::int64_t y = 0; y < with.height(); ++y)
        for (std::int64_t x = 0; x < with.width(); ++x)
            worst = std::max({worst, std::abs(static_cast<double>(with(x, y).r - without(x, y).r)),
                              std::abs(static_cast<double>(with(x, y).g - without(x, y).g)), std::abs(static_cast<double>(with(x, y).b - without(x, y).b))});
    CHECK(worst < 0.003);  // a ramp's median lies a step off its middle
    // The star is as bright as it was drawn: nothing of it was taken for a stuck pixel.
    CHECK(static_cast<double>(without(50, 45).g) > linear(2000 + 20 * 50 + 11 * 45 + 4000));
}

TEST_CASE("a camera's settings are read from what it notes") {
    const TemporaryFolder folder;
    DngSpec spec;
    spec.settings = synthetic::ShotSettings{1.0 / 30, 5.6, 200};
    write_dng(folder.file("a.dng"), spec, [](std::uint32_t, std::uint32_t, int) { return std::uint16_t{3000}; });
    const CameraSettings settings = opened(folder.file("a.dng"))->info().settings;
    CHECK(settings.camera == "Invented Copy stand");
    CHECK(settings.seconds == Approx(1.0 / 30).epsilon(0.001));
    CHECK(settings.f_number == Approx(5.6).epsilon(0.001));
    CHECK(settings.iso == 200);
    write_dng(folder.file("b.dng"), {}, [](std::uint32_t, std::uint32_t, int) { return std::uint16_t{3000}; });
    CHECK(opened(folder.file("b.dng"))->info().settings.seconds == 0);
}

TEST_CASE("the sensor's page is found below a preview") {
    const TemporaryFolder folder;
    DngSpec spec;
    spec.preview_first = true;
    write_dng(folder.file("a.dng"), spec, [](std::uint32_t, std::uint32_t, int) { return std::uint16_t{3000}; });
    const auto reader = opened(folder.file("a.dng"));
    CHECK(reader->info().width == kWidth);
    CHECK(static_cast<double>(read_all(*reader)(40, 30).g) == Approx(linear(3000)).epsilon(kMosaicTolerance));
}

TEST_CASE("a negative that holds only a small picture or metadata is refused") {
    const TemporaryFolder folder;
    for (const bool with_settings : {false, true}) {
        DngSpec spec;
        if (with_settings) spec.settings = synthetic::ShotSettings{};
        synthetic::write_dng_without_sensor(folder.file("thumbnail.dng"), spec);
        const auto reader = open_scan(folder.file("thumbnail.dng"), {});
        REQUIRE_FALSE(reader);
        CHECK(reader.error().code == ErrorCode::unsupported);
        CHECK(reader.error().what.find("sensor data") != std::string::npos);
    }
}

namespace {

std::uint32_t number(const Bytes& bytes, std::size_t at, int size) {
    std::uint32_t value = 0;
    for (int i = size; i-- > 0;) value = value << 8 | bytes[at + static_cast<std::size_t>(i)];
    return value;
}

/// Moves the only strip of a little-endian file behind everything else, as cameras write it.
Bytes with_data_last(Bytes bytes) {
    constexpr std::uint32_t kStripOffsets = 273, kStripByteCounts = 279;
    std::size_t offset_entry = 0, data = 0, size = 0;
    const std::size_t directory = number(bytes, 4, 4);
    for (std::size_t i = 0, n = number(bytes, directory, 2); i < n; ++i) {
        const std::size_t entry = directory + 2 + 12 * i;
        if (number(bytes, entry, 2) == kStripOffsets) offset_entry = entry, data = number(bytes, entry + 8, 4);
        if (number(bytes, entry, 2) == kStripByteCounts) size = number(bytes, entry + 8, 4);
    }
    const std::size_t moved = bytes.size();
    for (std::size_t i = 0; i < size; ++i) bytes.push_back(bytes[data + i]);
    for (std::size_t i = 0; i < 4; ++i) bytes[offset_entry + 8 + i] = static_cast<unsigned char>(moved >> 8 * i);
    return bytes;
}

}  // namespace

TEST_CASE("a negative cut off before its data's end is an error and never noise") {
    const TemporaryFolder folder;
    for (const bool linear_raw : {false, true}) {
        CAPTURE(linear_raw);
        DngSpec spec;
        spec.linear = linear_raw;
        write_dng(folder.file("a.dng"), spec, [](std::uint32_t x, std::uint32_t y, int) { return static_cast<std::uint16_t>(600 + x * y); });
        const Bytes whole = with_data_last(load(folder.file("a.dng")));
        save(folder.file("a.dng"), whole);
        CHECK(static_cast<double>(read_all(*opened(folder.file("a.dng")))(40, 30).g) > 0);
        const std::size_t data = kWidth * kHeight * 2 * (linear_raw ? 3 : 1);
        for (const std::size_t cut : {std::size_t{200}, data / 2, data - 100, data}) {
            CAPTURE(cut);
            save(folder.file("a.dng"), Bytes(whole.begin(), whole.end() - static_cast<std::ptrdiff_t>(cut)));
            auto reader = open_scan(folder.file("a.dng"), {});
            if (!reader) {
                CHECK((reader.error().code == ErrorCode::malformed || reader.error().code == ErrorCode::unsupported));
                continue;
            }
            Image<LinearRgbi> image(kWidth, kHeight);
            const auto read = (*reader)->read_region({0, 0, kWidth, kHeight}, image.view());
            REQUIRE_FALSE(read);
            CHECK(read.error().code == ErrorCode::malformed);
        }
    }
    // Cut in its directory: it is no negative any more.
    write_dng(folder.file("b.dng"), {}, [](std::uint32_t, std::uint32_t, int) { return std::uint16_t{600}; });
    std::filesystem::resize_file(folder.file("b.dng"), std::filesystem::file_size(folder.file("b.dng")) / 2);
    const auto reader = open_scan(folder.file("b.dng"), {});
    REQUIRE_FALSE(reader);
    CHECK(reader.error().code == ErrorCode::malformed);
}

TEST_CASE("averages of a mosaic are those of its interpolated colours, taken from two by two each") {
    const TemporaryFolder folder;
    for (const std::array<std::uint8_t, 4>& pattern : {std::array<std::uint8_t, 4>{0, 1, 1, 2}, std::array<std::uint8_t, 4>{1, 2, 0, 1}}) {
        DngSpec spec;
        spec.width = 203, spec.height = 141;  // odd: the last row and column lack a partner
        spec.pattern = pattern;
        // A gentle slope with colours of its own, and a dense half.
        const auto light = [](double x, double y, int colour) { return (0.2 + 0.002 * x + 0.001 * colour * y) * (x > 100 ? 0.02 : 1.0); };
        write_dng(folder.file("a.dng"), spec, [&](std::uint32_t x, std::uint32_t y, int colour) {
            return static_cast<std::uint16_t>(std::lround(kBlack + (kWhite - kBlack) * light(x, y, colour)));
        });
        const auto whole = opened(folder.file("a.dng")), folded = opened(folder.file("a.dng"));
        folded->will_average(4);
        const Image<LinearRgbi> a = read_all(*whole), b = read_all(*folded);
        double worst = 0;
        for (std::int64_t y = 8; y + 12 < a.height(); y += 4)
            for (std::int64_t x = 8; x + 12 < a.width(); x += 4) {
                if (std::abs(static_cast<double>(x) - 98) < 8) continue;  // where the step is, a pixel of colour more or less counts
                for (int c = 0; c < 3; ++c) {
                    double in_a = 0, in_b = 0;
                    for (std::int64_t i = 0; i < 16; ++i) {
                        const LinearRgbi &p = a(x + i % 4, y + i / 4), &q = b(x + i % 4, y + i / 4);
                        in_a += static_cast<double>(c == 0   ? p.r
                                                    : c == 1 ? p.g
                                                             : p.b) /
                                16,
                            in_b += static_cast<double>(c == 0   ? q.r
                                                        : c == 1 ? q.g
                                                                 : q.b) /
                                    16;
                    }
                    worst = std::max(worst, std::abs(std::log10(in_b / in_a)));
                }
            }
        // Half a pixel of the slope is .002 at most; a code of the dense half, .0002 of full scale in .004, is .002 too.
        CHECK(worst < 0.004);
        CHECK(b(9, 9).r == b(8, 8).r);
        CHECK(static_cast<double>(b(202, 140).g) == Approx(light(202, 140, 1)).epsilon(0.02));
    }
    // What is opened anew and not asked for averages stays as fine as ever.
    const auto again = opened(folder.file("a.dng"));
    const Image<LinearRgbi> fine = read_all(*again);
    CHECK(fine(9, 9).r != fine(8, 8).r);
}

TEST_CASE("a sensor that cannot be is refused before its pixels are touched") {
    const TemporaryFolder folder;
    const auto even = [](std::uint32_t, std::uint32_t, int) { return std::uint16_t{4000}; };
    const auto complaint = [&](const DngSpec& spec) -> std::string {
        write_dng(folder.file("a.dng"), spec, even);
        auto reader = open_scan(folder.file("a.dng"), {});
        if (!reader) return describe(reader.error());
        Image<LinearRgbi> image((*reader)->info().width, (*reader)->info().height);
        const auto read = (*reader)->read_region({0, 0, image.width(), image.height()}, image.view());
        return read ? std::string() : describe(read.error());
    };
    using Catch::Contains;
    CHECK(complaint({}).empty());
    DngSpec spec;
    spec.cfa_layout = 2;
    CHECK_THAT(complaint(spec), Contains("rows do not run along its edges"));
    spec = {};
    spec.default_scale = {0.0001F, 1000.0F};
    CHECK_FALSE(complaint(spec).empty());
    spec.default_scale = {1.0F, 2.0F};  // rows half as dense as columns
    CHECK_THAT(complaint(spec), Contains("not square"));
    spec.default_scale = {1.0F, 1.004F};
    CHECK(complaint(spec) == "");
    for (const std::vector<std::uint32_t>& area :
         {std::vector<std::uint32_t>{8, 8, 5000, 5000}, std::vector<std::uint32_t>{60, 90, 10, 10}, std::vector<std::uint32_t>{0, 0, 1, 1}}) {
        spec = {};
        spec.active_area = area;
        (void)complaint(spec);  // whatever it is taken for, nothing outside the sensor is touched
    }
}
