// SPDX-License-Identifier: GPL-3.0-or-later
// A lens' bending undone: against the generator's own lens, and against a general library's model of the same terms.
#include "basefog/core/lens.h"

#include "scan/test_files.h"
#include "support/synthetic_camera.h"

#include <catch2/catch.hpp>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <limits>

using namespace basefog;
using namespace basefog::testing;

namespace {

constexpr int kWidth = 330, kHeight = 220;
const LensModel kLenses[] = {{-0.03, 0.006}, {0.02, 0.0}, {0.0, -0.02}, {0.05, -0.03}};

/// A chart as film: waves of several lengths, so that a pixel's shift shows everywhere.
cv::Mat chart(double px_per_mm) {
    cv::Mat film(static_cast<int>(24 * px_per_mm), static_cast<int>(36 * px_per_mm), CV_32FC3);
    for (int y = 0; y < film.rows; ++y)
        for (int x = 0; x < film.cols; ++x) {
            const double u = x / px_per_mm, v = y / px_per_mm;
            for (int c = 0; c < 3; ++c) film.at<cv::Vec3f>(y, x)[c] = static_cast<float>(0.5 + 0.2 * std::sin(2.1 * u + c) + 0.2 * std::sin(1.7 * v - 0.4 * u));
        }
    return film;
}

synthetic::CopyCamera camera_with(const LensModel& lens) {
    synthetic::CopyCamera camera;
    camera.width = kWidth, camera.height = kHeight;
    camera.px_per_mm = 12;
    camera.lens = {lens.k1, lens.k2};
    camera.lamp = {1, 1, 1};
    return camera;
}

/// The sensor's light as a linear file of floats.
void write_light(const std::string& path, const cv::Mat& light) {
    TiffSpec spec;
    spec.width = static_cast<std::uint32_t>(light.cols), spec.height = static_cast<std::uint32_t>(light.rows);
    spec.bits = 32;
    write_tiff(path, spec,
               [&](std::int64_t x, std::int64_t y, int s) { return static_cast<double>(light.at<cv::Vec3f>(static_cast<int>(y), static_cast<int>(x))[s]); });
}

const synthetic::CopyShot kMiddle{18, 12, 0, 1, 1, false};

}  // namespace

TEST_CASE("a lens' model and its inverse agree with the generator's and with the library's") {
    for (const LensModel& lens : kLenses) {
        CAPTURE(lens.k1, lens.k2);
        REQUIRE(is_sound(lens));
        const LensView view(lens, kWidth, kHeight);
        const synthetic::Lens other{lens.k1, lens.k2};
        const double half = 0.5 * std::hypot(kWidth, kHeight);
        // The library counts in focal lengths: with one of half the diagonal its terms are ours.
        const cv::Matx33d matrix(half, 0, kWidth / 2.0, 0, half, kHeight / 2.0, 0, 0, 1);
        const cv::Vec4d terms(lens.k1, lens.k2, 0, 0);
        for (double y = 0; y <= kHeight; y += 27.5)
            for (double x = 0; x <= kWidth; x += 33) {
                const PointPx seen = view.seen({x, y});
                const auto drawn = other.seen({(x - kWidth / 2.0) / half, (y - kHeight / 2.0) / half});
                CHECK(distance(seen, {kWidth / 2.0 + drawn[0] * half, kHeight / 2.0 + drawn[1] * half}) < 1e-9);
                std::vector<cv::Point2d> projected;
                cv::projectPoints(std::vector<cv::Point3d>{{(x - kWidth / 2.0) / half, (y - kHeight / 2.0) / half, 1}}, cv::Vec3d(), cv::Vec3d(), matrix, terms,
                                  projected);
                CHECK(distance(seen, {projected[0].x, projected[0].y}) < 1e-9);
                CHECK(distance(view.perfect(seen), {x, y}) < 1e-6);
            }
    }
}

TEST_CASE("a straightened shot is what a perfect lens would have shown") {
    const TemporaryFolder folder;
    const cv::Mat film = chart(24), perfect = synthetic::seen_light(camera_with({}), kMiddle, film, 24);
    for (const LensModel& lens : kLenses) {
        CAPTURE(lens.k1, lens.k2);
        const cv::Mat bent = synthetic::seen_light(camera_with(lens), kMiddle, film, 24);
        write_light(folder.file("shot.tif"), bent);
        ScanOptions options = linear_options();
        options.lens = lens;
        const auto reader = opened(folder.file("shot.tif"), options);
        REQUIRE(reader->info().lens == lens);
        const Image<LinearRgbi> straight = read_all(*reader);
        // Against the library's own way of undoing it, too.
        const double half = 0.5 * std::hypot(kWidth, kHeight);
        const cv::Matx33d matrix(half, 0, kWidth / 2.0 - 0.5, 0, half, kHeight / 2.0 - 0.5, 0, 0, 1);
        cv::Mat map, unused, theirs;
        cv::initUndistortRectifyMap(matrix, cv::Vec4d(lens.k1, lens.k2, 0, 0), cv::noArray(), matrix, bent.size(), CV_32FC2, map, unused);
        cv::remap(bent, theirs, map, {}, cv::INTER_CUBIC, cv::BORDER_REPLICATE);
        double bent_off = 0, off = 0, library_off = 0;
        for (int y = 12; y < kHeight - 12; ++y)
            for (int x = 12; x < kWidth - 12; ++x)
                for (int c = 0; c < 3; ++c) {
                    const float ours = c == 0 ? straight(x, y).r : c == 1 ? straight(x, y).g : straight(x, y).b;
                    off = std::max(off, std::abs(static_cast<double>(ours - perfect.at<cv::Vec3f>(y, x)[c])));
                    library_off = std::max(library_off, std::abs(static_cast<double>(ours - theirs.at<cv::Vec3f>(y, x)[c])));
                    bent_off = std::max(bent_off, std::abs(static_cast<double>(bent.at<cv::Vec3f>(y, x)[c] - perfect.at<cv::Vec3f>(y, x)[c])));
                }
        CHECK(bent_off > 0.04);
        CHECK(off < 0.004);          // interpolating twice a wave of forty pixels
        CHECK(library_off < 0.006);  // whose kernel is a sharper one, and whose places are rounded to a 32nd of a pixel
        // A region is the same as that part of the whole.
        for (const PxRect rect : {PxRect{0, 0, 40, 30}, {300, 190, 330, 220}, {100, 105, 220, 106}}) {
            Image<LinearRgbi> part(rect.width(), rect.height());
            REQUIRE(reader->read_region(rect, part.view()));
            bool all_same = true;
            for (std::int64_t y = 0; y < part.height(); ++y)
                for (std::int64_t x = 0; x < part.width(); ++x) all_same = all_same && same(part(x, y), straight(rect.x0 + x, rect.y0 + y));
            CHECK(all_same);
        }
    }
}

TEST_CASE("what is no lens is refused") {
    const double nan = std::numeric_limits<double>::quiet_NaN();
    for (const LensModel& lens : {LensModel{-0.5, 0}, LensModel{0.3, 0}, LensModel{0, -0.4}, LensModel{nan, 0}, LensModel{0, nan}}) {
        CHECK_FALSE(is_sound(lens));
        ScanOptions options;
        options.lens = lens;
        CHECK_FALSE(open_scan("any.tif", options));
    }
}
