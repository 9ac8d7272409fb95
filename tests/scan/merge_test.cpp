// SPDX-License-Identifier: GPL-3.0-or-later
// Shots of one dense frame at several exposures, merged in linear light.
#include "scan/test_files.h"
#include "support/synthetic_camera.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

using namespace basefog;
using namespace basefog::testing;

namespace {

/// Density from nothing at the left to three at the right, a little wavy; the same in all colours.
double density_at(double x_mm, double y_mm) { return std::max(0.0, 3.2 * (x_mm - 2) / 36) + 0.05 * std::sin(1.3 * y_mm); }

constexpr double kDrawn = 20;

cv::Mat wedge(double shift_mm = 0) {
    cv::Mat film(static_cast<int>(24 * kDrawn), static_cast<int>(36 * kDrawn), CV_32FC3);
    for (int y = 0; y < film.rows; ++y)
        for (int x = 0; x < film.cols; ++x)
            film.at<cv::Vec3f>(y, x) = cv::Vec3f::all(static_cast<float>(std::pow(10, -density_at(x / kDrawn + shift_mm, y / kDrawn))));
    return film;
}

synthetic::CopyCamera camera() {
    synthetic::CopyCamera camera;
    camera.width = 420, camera.height = 280;
    camera.px_per_mm = 12;
    camera.lamp = {0.7, 0.8, 0.6};
    return camera;
}
synthetic::CopyShot shot_with(double exposure, std::uint64_t seed) { return {18, 12, 0, exposure, seed, true}; }

struct Shots {
    TemporaryFolder folder;
    Shots() {
        const cv::Mat film = wedge();
        synthetic::write_shot(folder.file("a.dng"), camera(), shot_with(1, 1), film, kDrawn);
        synthetic::write_shot(folder.file("b.dng"), camera(), shot_with(4, 2), film, kDrawn);
        synthetic::write_shot(folder.file("c.dng"), camera(), shot_with(16, 3), film, kDrawn);
    }
    [[nodiscard]] ScanOptions with(std::vector<std::string> names) const {
        ScanOptions options;
        for (const std::string& name : names) options.other_exposures.push_back(folder.file(name));
        return options;
    }
};

/// Root mean square and mean of green's error as a share of the light, where density is between two.
struct Off {
    double spread = 0, mean = 0, largest = 0;
};
Off error_of(const Image<LinearRgbi>& image, const cv::Mat& truth, double from, double to) {
    Off error;
    double n = 0, squares = 0;
    for (int y = 4; y < truth.rows - 4; ++y)
        for (int x = 4; x < truth.cols - 4; ++x) {
            const double light = static_cast<double>(truth.at<cv::Vec3f>(y, x)[1]), density = -std::log10(light / camera().lamp[1]);
            if (density < from || density > to) continue;
            const double off = static_cast<double>(image(x, y).g) / light - 1;
            error.mean += off, squares += off * off, n += 1, error.largest = std::max(error.largest, std::abs(off));
        }
    error.mean /= n;
    error.spread = std::sqrt(squares / n);
    return error;
}

}  // namespace

TEST_CASE("exposures merge to less noise where film is dense and to no harm where the longer is at white") {
    const Shots shots;
    const cv::Mat truth = synthetic::seen_light(camera(), shot_with(1, 1), wedge(), kDrawn);
    const Image<LinearRgbi> single = read_all(*opened(shots.folder.file("a.dng")));
    const auto reader = opened(shots.folder.file("a.dng"), shots.with({"b.dng", "c.dng"}));
    REQUIRE(reader->info().other_exposures.size() == 2);
    // Fitted to the pixels, and what the camera notes: there the two agree, so nothing is said.
    CHECK(reader->info().other_exposures[0] == Approx(4).epsilon(0.005));
    CHECK(reader->info().other_exposures[1] == Approx(16).epsilon(0.01));
    CHECK(reader->info().warnings.empty());
    const Image<LinearRgbi> merged = read_all(*reader);
    const Off dense = error_of(merged, truth, 2.2, 2.8), dense_single = error_of(single, truth, 2.2, 2.8);
    CAPTURE(dense.spread, dense_single.spread, dense.mean, dense_single.mean);
    CHECK(dense.spread < dense_single.spread / 3);  // twenty-one times the light: 4.6 times less noise at best
    CHECK(std::abs(dense.mean) < 0.01);
    const Off middle = error_of(merged, truth, 0.3, 2.2), clear = error_of(merged, truth, -0.1, 0.3), clear_single = error_of(single, truth, -0.1, 0.3);
    CHECK(std::abs(middle.mean) < 0.003);
    CHECK(clear.spread < 1.1 * clear_single.spread);
    CHECK(clear.largest < 1.3 * clear_single.largest + 0.005);
    // A region is the same as that part of the whole.
    Image<LinearRgbi> part(60, 21);
    REQUIRE(reader->read_region({100, 90, 160, 111}, part.view()));
    for (std::int64_t y = 0; y < 21; ++y)
        for (std::int64_t x = 0; x < 60; ++x) REQUIRE(same(part(x, y), merged(100 + x, 90 + y)));
}

TEST_CASE("a shorter exposure saves what is at white in the shot itself") {
    const Shots shots;
    const cv::Mat truth = synthetic::seen_light(camera(), shot_with(4, 1), wedge(), kDrawn);
    const auto reader = opened(shots.folder.file("b.dng"), shots.with({"a.dng"}));
    CHECK(reader->info().other_exposures[0] == Approx(0.25).epsilon(0.005));
    const Image<LinearRgbi> merged = read_all(*reader);
    double worst = 0;
    for (int y = 20; y < 260; y += 10)
        for (int x = 6; x < 60; ++x) worst = std::max(worst, std::abs(static_cast<double>(merged(x, y).g / truth.at<cv::Vec3f>(y, x)[1]) - 1));
    CHECK(static_cast<double>(merged(8, 100).g) > 2);  // beyond the shot's own white
    CHECK(worst < 0.05);
}

TEST_CASE("shots that do not belong together are refused and what was noted wrongly is told") {
    using Catch::Contains;
    const Shots shots;
    const auto complaint = [&](const std::string& other) {
        const auto reader = open_scan(shots.folder.file("a.dng"), shots.with({other}));
        return reader ? std::string() : describe(reader.error());
    };
    // Other film, and the same film moved.
    cv::Mat other(static_cast<int>(24 * kDrawn), static_cast<int>(36 * kDrawn), CV_32FC3);
    for (int y = 0; y < other.rows; ++y)
        for (int x = 0; x < other.cols; ++x)
            other.at<cv::Vec3f>(y, x) = cv::Vec3f::all(static_cast<float>(std::pow(10, -0.8 - 0.5 * std::sin(x * 0.05) * std::sin(y * 0.07))));
    synthetic::write_shot(shots.folder.file("other.dng"), camera(), shot_with(2, 4), other, kDrawn);
    CHECK_THAT(complaint("other.dng"), Contains("does not show the same"));
    synthetic::CopyCamera small = camera();
    small.width = 300;
    synthetic::write_shot(shots.folder.file("small.dng"), small, shot_with(2, 4), wedge(), kDrawn);
    CHECK_THAT(complaint("small.dng"), Contains("300 x 280"));
    synthetic::write_shot(shots.folder.file("white.dng"), camera(), shot_with(50000, 4), wedge(), kDrawn);
    CHECK_THAT(complaint("white.dng"), Contains("hardly anything well exposed"));
    CHECK_THAT(complaint("none.dng"), Contains("none.dng"));
    // The shutter noted is twice the one used: brighter by the lamp.
    synthetic::CopyCamera dim = camera();
    dim.lamp = {0.35, 0.4, 0.3};
    synthetic::write_shot(shots.folder.file("dim.dng"), dim, shot_with(4, 5), wedge(), kDrawn);
    const auto reader = opened(shots.folder.file("a.dng"), shots.with({"dim.dng"}));
    CHECK(reader->info().other_exposures[0] == Approx(2).epsilon(0.01));
    REQUIRE(reader->info().warnings.size() == 1);
    CHECK_THAT(reader->info().warnings[0], Contains("1.00 stops") && Contains("2.00"));
}
