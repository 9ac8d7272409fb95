// SPDX-License-Identifier: GPL-3.0-or-later
#include "files.h"
#include "invert_world.h"

#include "basefog/invert/colour.h"
#include "basefog/invert/write.h"

#include <lcms2.h>
#include <png.h>
#include <sys/resource.h>
#include <catch2/catch.hpp>
#include <cmath>
#include <csignal>
#include <exiv2/exiv2.hpp>
#include <opencv2/core.hpp>
#include <opencv2/imgcodecs.hpp>

using namespace basefog;
using namespace basefog::test;

namespace {
OutputProfile profile_for(OutputSpace space) {
    InvertOptions options;
    options.output = space;
    return std::move(*OutputProfile::make(options));
}
}  // namespace

TEST_CASE("a reduction averages light, not codes") {
    Image<EncodedRgb8> checker(64, 48);
    for (std::int64_t y = 0; y < 48; ++y)
        for (std::int64_t x = 0; x < 64; ++x) checker(x, y) = (x + y) % 2 == 0 ? EncodedRgb8{255, 255, 255} : EncodedRgb8{0, 0, 0};
    const Image<EncodedRgb8> half = reduce_srgb(checker.view(), 32);
    REQUIRE(half.width() == 32);
    REQUIRE(half.height() == 24);
    // Half the light of white: sRGB 0.735357 (IEC 61966-2-1) = 187.5 of 255, where averaged codes would give 127.5.
    for (std::int64_t x = 0; x < 32; ++x) CHECK(std::abs(half(x, 7).g - 188) <= 1);
    CHECK(reduce_srgb(checker.view(), 640).width() == 64);  // never enlarged
    CHECK(reduce_srgb(View<const EncodedRgb8>(), 100).empty());
    CHECK(reduce_srgb(checker.view(), 0).width() == 1);
}

TEST_CASE("a reduction by a broken factor keeps a flat picture flat and the light's sum") {
    Image<EncodedRgb8> flat(101, 67, EncodedRgb8{13, 130, 240});
    const Image<EncodedRgb8> out = reduce_srgb(flat.view(), 40);
    for (std::int64_t y = 0; y < out.height(); ++y)
        for (std::int64_t x = 0; x < out.width(); ++x) {
            REQUIRE(out(x, y).r == 13);
            REQUIRE(out(x, y).g == 130);
            REQUIRE(out(x, y).b == 240);
        }
}

TEST_CASE("a reduced slope has no bands: dithered where 8 bits begin, by a fixed pattern") {
    // A slope of 3 codes over 1200 pixels, as the sky in a proof: without dither four flat bands. First 16 bits, then reduced by 2.
    const OutputProfile profile = profile_for(OutputSpace::srgb);
    Image<EncodedRgb16> slope(1200, 64);
    for (std::int64_t x = 0; x < 1200; ++x) {
        const auto light = static_cast<float>(srgb_decode((150 + 3 * double(x) / 1200) / 255));
        const SceneRgb in{light, light, light};
        for (std::int64_t y = 0; y < 64; ++y) profile.encode(&in, &slope(x, y), 1);
    }
    const auto made = proof_from_positive(slope.view(), profile.icc_bytes(), 600);
    REQUIRE(made);
    const Image<EncodedRgb8>& half = *made;
    REQUIRE(half.width() == 600);
    double worst = 0;
    for (std::int64_t x0 = 0; x0 + 8 <= 600; x0 += 8) {  // the pattern's own size, and all rows
        double mean = 0;
        for (std::int64_t y = 0; y < half.height(); ++y)
            for (std::int64_t x = x0; x < x0 + 8; ++x) mean += half(x, y).g / double(8 * half.height());
        worst = std::max(worst, std::fabs(mean - (150 + 3 * (2 * double(x0) + 8) / 1200)));
    }
    CAPTURE(worst);
    CHECK(worst < 0.03);  // the pattern's cells are a 64th of a code; bands would be off by half a code
    const auto again = proof_from_positive(slope.view(), profile.icc_bytes(), 600);
    for (std::int64_t x = 0; x < 600; ++x) REQUIRE(half(x, 5).g == (*again)(x, 5).g);
    // What 8 bits hold stays, at any size; a bad profile is told.
    Image<EncodedRgb16> flat(32, 32, EncodedRgb16{200 * 257, 0, 65535});
    const auto same = proof_from_positive(flat.view(), profile.icc_bytes(), 10);
    REQUIRE(same);
    for (std::int64_t x = 0; x < 10; ++x) CHECK(((*same)(x, 3).r == 200 && (*same)(x, 3).g == 0 && (*same)(x, 3).b == 255));
    CHECK(proof_from_positive(flat.view(), "not a profile", 10).error().code == ErrorCode::malformed);
    CHECK(proof_from_positive({}, profile.icc_bytes(), 10)->empty());
}

TEST_CASE("a proof of a wide positive shows the same colours, and strong ones with their hue") {
    const OutputProfile wide = profile_for(OutputSpace::wide), srgb = profile_for(OutputSpace::srgb);
    const SceneRgb plain{0.3F, 0.2F, 0.12F}, strong{0.5F, -0.02F, 0.0F};
    for (const SceneRgb& colour : {plain, strong}) {
        Image<EncodedRgb16> a(16, 16), b(16, 16);
        float r = colour.r, g = colour.g, bl = colour.b;
        srgb.fit_row(&r, &g, &bl, 1);
        const SceneRgb fitted{r, g, bl};
        for (std::int64_t y = 0; y < 16; ++y)
            for (std::int64_t x = 0; x < 16; ++x) {
                wide.encode(&colour, &a(x, y), 1);
                srgb.encode(&fitted, &b(x, y), 1);
            }
        const auto from_wide = proof_from_positive(a.view(), wide.icc_bytes(), 8), from_srgb = proof_from_positive(b.view(), srgb.icc_bytes(), 8);
        REQUIRE(from_wide);
        REQUIRE(from_srgb);
        for (std::int64_t x = 0; x < 8; ++x) {
            CHECK(std::abs((*from_wide)(x, 2).r - (*from_srgb)(x, 2).r) <= 1);
            CHECK(std::abs((*from_wide)(x, 2).g - (*from_srgb)(x, 2).g) <= 1);
            CHECK(std::abs((*from_wide)(x, 2).b - (*from_srgb)(x, 2).b) <= 1);
        }
    }
}

TEST_CASE("8-bit sRGB from any positive: right on average, and no bands") {
    for (const OutputSpace space : {OutputSpace::srgb, OutputSpace::wide, OutputSpace::linear}) {
        const OutputProfile profile = profile_for(space);
        Image<EncodedRgb16> slope(512, 64);
        for (std::int64_t x = 0; x < 512; ++x) {
            const auto light = static_cast<float>(srgb_decode(0.4 + 0.02 * double(x) / 512));
            for (std::int64_t y = 0; y < 64; ++y) {
                const SceneRgb in{light, light, light};
                profile.encode(&in, &slope(x, y), 1);
            }
        }
        const auto out = srgb8_from_positive(slope.view(), profile.icc_bytes());
        REQUIRE(out);
        for (std::int64_t x0 = 0; x0 < 512; x0 += 64) {
            double mean = 0;
            for (std::int64_t y = 0; y < 64; ++y)
                for (std::int64_t x = x0; x < x0 + 64; ++x) mean += (*out)(x, y).g / 4096.0;
            // The dither's cells are finer than a 60th of a code; lcms2's 16-bit matrix path adds a few of its codes.
            CHECK(mean == Approx((0.4 + 0.02 * (double(x0) + 32) / 512) * 255).margin(0.05));
        }
    }
    Image<EncodedRgb16> exact(256, 1);
    for (std::int64_t x = 0; x < 256; ++x) exact(x, 0) = {static_cast<std::uint16_t>(x * 257), 0, 65535};
    const auto same = srgb8_from_positive(exact.view(), profile_for(OutputSpace::srgb).icc_bytes());
    REQUIRE(same);
    for (std::int64_t x = 0; x < 256; ++x) CHECK((*same)(x, 0).r == x);  // what 8 bits can hold is not dithered
    CHECK_FALSE(srgb8_from_positive(exact.view(), "not a profile"));
    CHECK(srgb8_from_positive(View<const EncodedRgb16>(), profile_for(OutputSpace::srgb).icc_bytes())->empty());
}

TEST_CASE("proofs: another reader sees the picture, its sRGB profile and its metadata") {
    TemporaryFolder folder;
    Image<EncodedRgb8> picture(120, 80);
    for (std::int64_t y = 0; y < 80; ++y)
        for (std::int64_t x = 0; x < 120; ++x) picture(x, y) = {static_cast<std::uint8_t>(2 * x), static_cast<std::uint8_t>(3 * y), 100};
    PhotoMetadata metadata;
    metadata.title = "roll R2, frame 3";
    metadata.description = "daylight 50 negative";
    metadata.date = "2024-05-06";
    metadata.exposure_index = 25;
    metadata.keywords = {"R2"};
    REQUIRE(write_proof_jpeg(folder.file("proof.jpg"), picture.view(), 92, metadata));
    const cv::Mat read = cv::imread(folder.file("proof.jpg"));
    REQUIRE(read.cols == 120);
    REQUIRE(read.rows == 80);
    // JPEG at 92 with halved colour resolution: a smooth slope comes back within a few codes.
    for (int y = 4; y < 76; y += 9)
        for (int x = 4; x < 116; x += 9) {
            CHECK(std::abs(read.at<cv::Vec3b>(y, x)[2] - 2 * x) <= 8);
            CHECK(std::abs(read.at<cv::Vec3b>(y, x)[1] - 3 * y) <= 8);
        }
    auto image = Exiv2::ImageFactory::open(folder.file("proof.jpg"));
    image->readMetadata();
    REQUIRE(image->iccProfileDefined());
    const Exiv2::DataBuf& icc = *image->iccProfile();
    CHECK(std::string(reinterpret_cast<const char*>(icc.pData_), static_cast<std::size_t>(icc.size_)) == profile_for(OutputSpace::srgb).icc_bytes());
    CHECK(image->exifData()["Exif.Image.ImageDescription"].toString() == "daylight 50 negative");
    CHECK(image->exifData()["Exif.Photo.DateTimeOriginal"].toString() == "2024:05:06 00:00:00");
    CHECK(image->iptcData()["Iptc.Application2.ObjectName"].toString() == "roll R2, frame 3");
    CHECK(image->xmpData()["Xmp.dc.subject"].toString() == "R2");
    CHECK(folder.count() == 1);

    CHECK(write_proof_jpeg(folder.file("no/such.jpg"), picture.view(), 92, metadata).error().code == ErrorCode::unwritable);
    CHECK_FALSE(jpeg_bytes(View<const EncodedRgb8>(), 90));
    const auto bytes = jpeg_bytes(picture.view(), 90);
    REQUIRE(bytes);
    CHECK(bytes->substr(0, 3) == "\xFF\xD8\xFF");
}

TEST_CASE("a grey PNG is streamed by rows, read back exactly, and absent when it fails") {
    TemporaryFolder folder;
    const auto value = [](std::int64_t x, std::int64_t y) { return static_cast<std::uint8_t>(x * y % 7 == 0 ? (x + y) % 4 : 0); };
    REQUIRE(write_grey_png(folder.file("map.png"), 333, 211, [&](std::int64_t y, std::uint8_t* row) {
        for (std::int64_t x = 0; x < 333; ++x) row[x] = value(x, y);
    }));
    const cv::Mat read = cv::imread(folder.file("map.png"), cv::IMREAD_UNCHANGED);
    REQUIRE(read.type() == CV_8UC1);
    REQUIRE(read.cols == 333);
    bool equal = read.rows == 211;
    for (int y = 0; y < read.rows; ++y)
        for (int x = 0; x < read.cols; ++x) equal &= read.at<std::uint8_t>(y, x) == value(x, y);
    CHECK(equal);
    const auto nothing = [](std::int64_t, std::uint8_t*) {};
    CHECK(write_grey_png(folder.file("zero.png"), 0, 5, nothing).error().code == ErrorCode::unwritable);
    CHECK(write_grey_png(folder.file("no/map.png"), 5, 5, nothing).error().code == ErrorCode::unwritable);

    rlimit before{};
    getrlimit(RLIMIT_FSIZE, &before);
    const auto old_handler = std::signal(SIGXFSZ, SIG_IGN);
    rlimit small = before;
    small.rlim_cur = 20'000;
    setrlimit(RLIMIT_FSIZE, &small);
    Random random(1);
    const auto full = write_grey_png(folder.file("full.png"), 500, 500, [&](std::int64_t, std::uint8_t* row) {
        for (int x = 0; x < 500; ++x) row[x] = static_cast<std::uint8_t>(random() * 256);
    });
    setrlimit(RLIMIT_FSIZE, &before);
    std::signal(SIGXFSZ, old_handler);
    REQUIRE_FALSE(full);
    CHECK(full.error().what.find("File too large") != std::string::npos);
    CHECK(folder.count() == 1);
}
