// SPDX-License-Identifier: GPL-3.0-or-later
// Files for finishing programs, read back by other programs and libraries: scene-linear OpenEXR, and densities as ADX16.
#include "files.h"
#include "invert_world.h"

#include "basefog/invert/colour.h"
#include "basefog/invert/write.h"
#include "invert/aces.h"
#include "invert/adx.h"

#include <OpenColorIO/OpenColorIO.h>
#include <OpenEXR/ImfChannelList.h>
#include <OpenEXR/ImfChromaticitiesAttribute.h>
#include <OpenEXR/ImfHeader.h>
#include <OpenEXR/ImfInputFile.h>
#include <OpenEXR/ImfIntAttribute.h>
#include <OpenEXR/ImfStandardAttributes.h>
#include <sys/resource.h>
#include <tiffio.h>
#include <catch2/catch.hpp>
#include <csignal>
#include <cstdlib>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>

using namespace basefog;
using namespace basefog::test;
namespace ocio = OCIO_NAMESPACE;

namespace {

ocio::ConstCPUProcessorRcPtr library(std::initializer_list<const char*> styles) {
    ocio::GroupTransformRcPtr group = ocio::GroupTransform::Create();
    for (const char* style : styles) {
        ocio::BuiltinTransformRcPtr transform = ocio::BuiltinTransform::Create();
        transform->setStyle(style);
        group->appendTransform(transform);
    }
    return ocio::Config::CreateRaw()->getProcessor(group)->getOptimizedCPUProcessor(ocio::OPTIMIZATION_NONE);
}

/// A slope of light over six stops across, colours down.
SceneRgb light_at(std::int64_t x, std::int64_t y) {
    const auto level = static_cast<float>(0.02 * std::pow(2.0, double(x) / 20));
    return {level, level * (1 - 0.004F * static_cast<float>(y)), level * (1 - 0.002F * static_cast<float>(y))};
}
Result<void> fill_light(std::int64_t row0, View<SceneRgb> rows) {
    for (std::int64_t y = 0; y < rows.height(); ++y)
        for (std::int64_t x = 0; x < rows.width(); ++x) rows(x, y) = light_at(x, row0 + y);
    return {};
}
constexpr PositiveSize kSize{120, 200};  // more rows than a band
/// Half a step of a half float: 11 bits of significand.
constexpr double kHalfStep = 1.0 / 2048;

PhotoMetadata some_metadata() {
    PhotoMetadata metadata;
    metadata.title = "roll R2, frame 3";
    metadata.software = "basefog";
    return metadata;
}

Result<void> write_light(const std::string& path, Compression compression = Compression::deflate) {
    return write_linear_exr(path, kSize, fill_light, compression, px_per_mm_from_dpi(1200), some_metadata());
}

}  // namespace

TEST_CASE("ACES2065-1 from linear sRGB agrees with OpenColorIO's built-in transforms") {
    // Its transforms from AP0 to XYZ (Bradford) and on to sRGB must give back the sRGB codes we began with.
    const auto back = library({"UTILITY - ACES-AP0_to_CIE-XYZ-D65_BFD", "DISPLAY - CIE-XYZ-D65_to_sRGB"});
    Random random(9);
    for (int i = 0; i < 200; ++i) {
        const SceneRgb in{static_cast<float>(random()), static_cast<float>(random()), static_cast<float>(random())};
        const SceneRgb aces = invert::aces_from_linear_srgb(in);
        std::array<float, 3> codes{aces.r, aces.g, aces.b};
        back->applyRGB(codes.data());
        // 2e-5: the library's matrices are computed from the same chromaticities; it works in single precision.
        CHECK(double(codes[0]) == Approx(srgb_encode(double(in.r))).margin(2e-5));
        CHECK(double(codes[1]) == Approx(srgb_encode(double(in.g))).margin(2e-5));
        CHECK(double(codes[2]) == Approx(srgb_encode(double(in.b))).margin(2e-5));
    }
    const SceneRgb grey = invert::aces_from_linear_srgb({0.18F, 0.18F, 0.18F});
    CHECK(grey.r == Approx(0.18).epsilon(1e-6));  // a grey stays grey
    CHECK(grey.g == Approx(0.18).epsilon(1e-6));
    CHECK(grey.b == Approx(0.18).epsilon(1e-6));
}

TEST_CASE("scene-linear files say what they are, and hold what was given to half a step") {
    const TemporaryFolder folder;
    for (const Compression compression : {Compression::none, Compression::deflate}) {
        const std::string path = folder.file(compression == Compression::none ? "plain.exr" : "zip.exr");
        REQUIRE(write_light(path, compression));
        Imf::InputFile file(path.c_str());
        const Imf::Header& header = file.header();
        // SMPTE ST 2065-1: AP0 and its white; ST 2065-4: the container is uncompressed and says so (from memory).
        const Imf::Chromaticities& ap0 = Imf::chromaticities(header);
        CHECK(ap0.red.x == Approx(0.7347));
        CHECK(ap0.red.y == Approx(0.2653));
        CHECK(ap0.green.x == Approx(0.0).margin(1e-9));
        CHECK(ap0.green.y == Approx(1.0));
        CHECK(ap0.blue.x == Approx(0.0001));
        CHECK(ap0.blue.y == Approx(-0.077));
        CHECK(ap0.white.x == Approx(0.32168));
        CHECK(ap0.white.y == Approx(0.33767));
        CHECK(Imf::adoptedNeutral(header).x == Approx(0.32168));
        const auto* flag = header.findTypedAttribute<Imf::IntAttribute>("acesImageContainerFlag");
        CHECK((flag != nullptr) == (compression == Compression::none));
        if (flag != nullptr) CHECK(flag->value() == 1);
        CHECK(Imf::comments(header) == "roll R2, frame 3");
        CHECK(Imf::xDensity(header) == Approx(1200));
        for (const char* channel : {"R", "G", "B"}) CHECK(header.channels()[channel].type == Imf::HALF);
    }
    // OpenCV reads both (as blue, green, red); its reader of this format has to be switched on.
    ::setenv("OPENCV_IO_ENABLE_OPENEXR", "1", 1);
    for (const char* name : {"plain.exr", "zip.exr"}) {
        const cv::Mat read = cv::imread(folder.file(name), cv::IMREAD_UNCHANGED);
        REQUIRE(read.type() == CV_32FC3);
        REQUIRE(read.cols == kSize.width);
        REQUIRE(read.rows == kSize.height);
        double worst = 0;
        for (int y = 0; y < read.rows; ++y)
            for (int x = 0; x < read.cols; ++x) {
                const SceneRgb aces = invert::aces_from_linear_srgb(light_at(x, y));
                const auto& pixel = read.at<cv::Vec3f>(y, x);
                for (const auto& [got, wanted] : {std::pair{pixel[2], aces.r}, {pixel[1], aces.g}, {pixel[0], aces.b}})
                    worst = std::max(worst, std::fabs(double(got) / double(wanted) - 1));
            }
        CHECK(worst < kHalfStep * 1.01);
    }
}

TEST_CASE("another program opens the scene-linear file and names its primaries") {
    if (!installed("exrheader")) {
        WARN("exrheader (openexr) is not installed: outside check of OpenEXR headers skipped");
        return;
    }
    const TemporaryFolder folder;
    REQUIRE(write_light(folder.file("plain.exr"), Compression::none));
    const std::string text = output_of("exrheader " + folder.file("plain.exr"));
    for (const char* words : {"acesImageContainerFlag (type int): 1", "16-bit floating-point", "0.7347", "compression (type compression): none"})
        CHECK_THAT(text, Catch::Contains(words));
}

TEST_CASE("a scene-linear file holds odd light, and is absent when it fails") {
    const TemporaryFolder folder;
    const auto odd = [](std::int64_t, View<SceneRgb> rows) -> Result<void> {
        const float values[] = {std::nanf(""), INFINITY, -INFINITY, 1e30F, -1e30F, 0.18F};
        for (std::int64_t x = 0; x < rows.width(); ++x) rows(x, 0) = {values[x % 6], values[x % 6], values[x % 6]};
        return {};
    };
    REQUIRE(write_linear_exr(folder.file("odd.exr"), {12, 1}, odd, Compression::deflate, PixelsPerMm(0), {}));
    ::setenv("OPENCV_IO_ENABLE_OPENEXR", "1", 1);
    const cv::Mat read = cv::imread(folder.file("odd.exr"), cv::IMREAD_UNCHANGED);
    REQUIRE(read.cols == 12);
    CHECK(cv::checkRange(read));
    CHECK(write_linear_exr(folder.file("no/such.exr"), kSize, fill_light, Compression::none, PixelsPerMm(0), {}).error().code == ErrorCode::unwritable);
    CHECK(write_linear_exr(folder.file("empty.exr"), {0, 5}, fill_light, Compression::none, PixelsPerMm(0), {}).error().code == ErrorCode::unwritable);

    rlimit before{};
    getrlimit(RLIMIT_FSIZE, &before);
    const auto old_handler = std::signal(SIGXFSZ, SIG_IGN);
    rlimit small = before;
    small.rlim_cur = 20'000;
    setrlimit(RLIMIT_FSIZE, &small);
    const auto full = write_light(folder.file("full.exr"), Compression::none);
    setrlimit(RLIMIT_FSIZE, &before);
    std::signal(SIGXFSZ, old_handler);
    REQUIRE_FALSE(full);
    CHECK(full.error().what.find("File too large") != std::string::npos);
    CHECK(folder.count() == 1);
}

TEST_CASE("densities: the written codes are ADX16, and OpenColorIO makes of the file what we make of the densities") {
    const TemporaryFolder folder;
    const FilmWorld film;
    const auto density_at = [&](std::int64_t x, std::int64_t y) {
        const SceneRgb light = light_at(x, y);
        DensityRgbi d = film.expose(double(light.r), double(light.g), double(light.b));
        return DensityRgbi{d.r - static_cast<float>(film.base[0]), d.g - static_cast<float>(film.base[1]), d.b - static_cast<float>(film.base[2]), 0};
    };
    const auto fill = [&](std::int64_t row0, View<DensityRgbi> rows) -> Result<void> {
        for (std::int64_t y = 0; y < rows.height(); ++y)
            for (std::int64_t x = 0; x < rows.width(); ++x) rows(x, y) = density_at(x, row0 + y);
        return {};
    };
    REQUIRE(write_density_tiff(folder.file("d.tif"), kSize, fill, Compression::deflate, px_per_mm_from_dpi(1200), some_metadata()));
    const cv::Mat read = cv::imread(folder.file("d.tif"), cv::IMREAD_UNCHANGED);
    REQUIRE(read.type() == CV_16UC3);
    REQUIRE(read.rows == kSize.height);
    const auto processor = library({"ADX16_to_ACES2065-1"});
    double worst_code = 0, worst_light = 0;
    for (int y = 0; y < read.rows; y += 3)
        for (int x = 0; x < read.cols; ++x) {
            const auto& codes = read.at<cv::Vec3w>(y, x);
            const DensityRgbi d = density_at(x, y);
            for (const auto& [code, density] : {std::pair{codes[2], d.r}, {codes[1], d.g}, {codes[0], d.b}})
                worst_code = std::max(worst_code, std::fabs(code - (8000 * double(density) + 1520)));
            std::array<float, 3> theirs{static_cast<float>(codes[2]) / 65535, static_cast<float>(codes[1]) / 65535, static_cast<float>(codes[0]) / 65535};
            processor->applyRGB(theirs.data());
            const SceneRgb ours = invert::aces_from_adx_density({Density(double(d.r)), Density(double(d.g)), Density(double(d.b))});
            for (const auto& [a, b] : {std::pair{theirs[0], ours.r}, {theirs[1], ours.g}, {theirs[2], ours.b}})
                worst_light = std::max(worst_light, std::fabs(double(a) - double(b)) / std::max(0.01, double(b)));
        }
    CHECK(worst_code < 0.501);
    // Half a code is 6.25e-5 of density; times ln 10 and the table's steepest part below mid-grey (about 11 log10 H per density) at most 1.6e-3, relative.
    CHECK(worst_light < 1.6e-3);
    CHECK(folder.count() == 1);
    if (installed("identify")) CHECK_THAT(output_of("identify -format '%w %h %z %m' " + folder.file("d.tif")), Catch::Contains("120 200 16 TIFF"));
}

TEST_CASE("densities below base and beyond the scale end at the codes' ends") {
    const TemporaryFolder folder;
    const auto fill = [](std::int64_t, View<DensityRgbi> rows) -> Result<void> {
        rows(0, 0) = {-0.19F, -1, 9};
        rows(1, 0) = {std::nanf(""), 0, 5};
        return {};
    };
    REQUIRE(write_density_tiff(folder.file("d.tif"), {2, 1}, fill, Compression::none, PixelsPerMm(0), {}));
    const cv::Mat read = cv::imread(folder.file("d.tif"), cv::IMREAD_UNCHANGED);
    REQUIRE(read.cols == 2);
    CHECK(read.at<cv::Vec3w>(0, 0) == cv::Vec3w(65535, 0, 0));
    CHECK(read.at<cv::Vec3w>(0, 1) == cv::Vec3w(41520, 1520, 0));
    CHECK(write_density_tiff(folder.file("no/d.tif"), {2, 1}, fill, Compression::none, PixelsPerMm(0), {}).error().code == ErrorCode::unwritable);
}
