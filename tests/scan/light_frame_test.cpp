// SPDX-License-Identifier: GPL-3.0-or-later
// A shot divided by one of the bare light.
#include "scan/test_files.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

using namespace basefog;
using namespace basefog::testing;

namespace {

constexpr double kDark = 900;  // codes the camera records with the lens capped

/// Falling off to the corners, bluish to the right.
double light(std::int64_t x, std::int64_t y, int sample, const TiffSpec& spec) {
    const double u = 2.0 * static_cast<double>(x) / spec.width - 1, v = 2.0 * static_cast<double>(y) / spec.height - 1;
    return 52000 * (1 - 0.3 * (u * u + v * v)) * (sample == 2 ? 0.7 + 0.05 * u : 1.0);
}
/// What film lets through.
double film(std::int64_t x, std::int64_t y) { return 0.2 + 0.5 * static_cast<double>((x / 8 + y / 8) % 2); }

TiffSpec large() {
    TiffSpec spec;
    spec.width = 240, spec.height = 160;
    return spec;
}

struct Shots {
    TemporaryFolder folder;
    TiffSpec spec = large();
    ScanOptions options;
    Shots() {
        write_tiff(shot(), spec, [this](std::int64_t x, std::int64_t y, int s) { return std::round(kDark + light(x, y, s, spec) * film(x, y)); });
        write_tiff(file("light.tif"), spec, [this](std::int64_t x, std::int64_t y, int s) { return std::round(kDark + light(x, y, s, spec)); });
        write_tiff(file("dark.tif"), spec, [](std::int64_t, std::int64_t, int) { return kDark; });
        options.light_frame_path = file("light.tif");
        options.dark_frame_path = file("dark.tif");
    }
    [[nodiscard]] std::string file(const std::string& name) const { return folder.file(name); }
    [[nodiscard]] std::string shot() const { return file("shot.tif"); }
    [[nodiscard]] std::string complaint() const {
        const auto reader = open_scan(shot(), options);
        return reader ? std::string() : describe(reader.error());
    }
};

}  // namespace

TEST_CASE("a shot divided by its light frame is the film's transmittance everywhere") {
    const Shots shots;
    const auto reader = opened(shots.shot(), shots.options);
    CHECK(reader->info().light_divided);
    const Image<LinearRgbi> image = read_all(*reader);
    double worst = 0;
    for (std::int64_t y = 0; y < image.height(); ++y)
        for (std::int64_t x = 0; x < image.width(); ++x)
            for (const float v : {image(x, y).r, image(x, y).g, image(x, y).b}) worst = std::max(worst, std::abs(static_cast<double>(v) - film(x, y)));
    CHECK(worst < 2e-4);  // codes are whole, and the light at a pixel's middle is read off whole pixels
    // A region is the same as that part of the whole.
    Image<LinearRgbi> part(50, 20);
    REQUIRE(reader->read_region({70, 90, 120, 110}, part.view()));
    CHECK(same(part(3, 4), image(73, 94)));
    const auto overview = read_overview(*reader, {});
    REQUIRE(overview);
    CHECK(overview->light_divided);
}

TEST_CASE("without a dark frame the camera's own zero stays in") {
    Shots shots;
    shots.options.dark_frame_path.clear();
    const Image<LinearRgbi> image = read_all(*opened(shots.shot(), shots.options));
    CHECK(static_cast<double>(image(120, 80).g) ==
          Approx((kDark + light(120, 80, 1, shots.spec) * film(120, 80)) / (kDark + light(120, 80, 1, shots.spec))).margin(2e-4));
}

TEST_CASE("what cannot be the light the shots were taken by is refused with the reason") {
    using Catch::Contains;
    Shots shots;
    write_tiff(shots.file("small.tif"), TiffSpec{});
    shots.options.light_frame_path = shots.file("small.tif");
    CHECK_THAT(shots.complaint(), Contains("240 x 160"));
    const auto even = [&](double code) { write_tiff(shots.file("even.tif"), shots.spec, [code](std::int64_t, std::int64_t, int) { return code; }); };
    shots.options.light_frame_path = shots.file("even.tif");
    even(65535);
    CHECK_THAT(shots.complaint(), Contains("white limit"));
    even(700);
    CHECK_THAT(shots.complaint(), Contains("nearly black"));
    shots.options.light_frame_path = shots.shot();  // film still in the holder
    CHECK_THAT(shots.complaint(), Contains("something in it"));
    shots.options.light_frame_path = shots.file("none.tif");
    CHECK_THAT(shots.complaint(), Contains("none.tif"));
    shots.options.light_frame_path.clear();
    CHECK_THAT(shots.complaint(), Contains("a dark frame goes with a light frame"));
}

TEST_CASE("a dark frame that is not dark is refused") {
    Shots shots;
    write_tiff(shots.file("open.tif"), shots.spec, [&](std::int64_t x, std::int64_t y, int s) { return std::round(kDark + 0.5 * light(x, y, s, shots.spec)); });
    shots.options.dark_frame_path = shots.file("open.tif");
    CHECK_THAT(shots.complaint(), Catch::Contains("not dark"));
}

TEST_CASE("a light frame is laid over the shot as the sensor had them, whatever way up the camera thought it was") {
    Shots shots;
    TiffSpec turned = shots.spec;
    turned.orientation = 3;
    write_tiff(shots.file("turned.tif"), turned, [&](std::int64_t x, std::int64_t y, int s) { return std::round(kDark + light(x, y, s, shots.spec)); });
    const Image<LinearRgbi> straight = read_all(*opened(shots.shot(), shots.options));
    shots.options.light_frame_path = shots.file("turned.tif");
    const Image<LinearRgbi> image = read_all(*opened(shots.shot(), shots.options));
    CHECK(same(image(3, 5), straight(3, 5)));
    CHECK(same(image(200, 17), straight(200, 17)));
}

TEST_CASE("what a shot's reader meets while it reads is told by every reader around it") {
    Shots shots;
    TiffSpec spec = shots.spec;
    spec.bits = 32;
    const auto put = [&](const std::string& name, double exposure, bool broken) {
        write_tiff(shots.file(name), spec, [=](std::int64_t x, std::int64_t y, int s) {
            return broken && x == 100 && y == 80 ? std::nan("") : exposure * light(x, y, s, spec) * film(x, y) / 65535;
        });
    };
    put("half.tif", 0.5, false);
    const auto told = [](const ScanReader& reader) {
        const std::vector<std::string>& all = reader.info().warnings;
        return std::count_if(all.begin(), all.end(), [](const std::string& w) { return w.find("no finite numbers") != std::string::npos; });
    };
    for (const bool broken : {false, true}) {
        put("whole.tif", 1, broken);
        const auto read_through = [&](const ScanOptions& options) {
            const auto reader = opened(shots.file("whole.tif"), options);
            read_all(*reader), read_all(*reader);
            return told(*reader);
        };
        ScanOptions divided = linear_options(), straight = linear_options(), merged = linear_options(), all = linear_options();
        divided.light_frame_path = all.light_frame_path = shots.file("light.tif");
        straight.lens = all.lens = LensModel{0.01, 0};
        merged.other_exposures = all.other_exposures = {shots.file("half.tif")};
        for (const ScanOptions& options : {divided, straight, merged, all}) CHECK(read_through(options) == (broken ? 1 : 0));
        const auto reader = opened(shots.file("whole.tif"), divided);
        std::vector<std::byte> bytes(static_cast<std::size_t>(spec.width * spec.height * reader->stored_format()->pixel_bytes()));
        REQUIRE(reader->read_stored({0, 0, spec.width, spec.height}, bytes.data()));
        CHECK(told(*reader) == (broken ? 1 : 0));
    }
}
