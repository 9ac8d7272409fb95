// SPDX-License-Identifier: GPL-3.0-or-later
// The lens told from film of published dimensions, against the generator's truth and against a general library's calibration on a drawn grid.
#include "basefog/frames/measure_lens.h"
#include "basefog/frames/find_frames.h"
#include "frames/drawn_sheet.h"
#include "support/synthetic_camera.h"

#include <catch2/catch.hpp>
#include <opencv2/calib3d.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <vector>

using namespace basefog;
using namespace basefog::drawn;

namespace {

constexpr double kDrawn = 32;  // pixels per millimetre of the film

struct Film {
    cv::Mat light;
    std::vector<PointPx> middles;  ///< of its frames, mm
};

Film film_of(std::vector<FramePlan> frames, std::uint64_t seed) {
    SheetPlan plan;
    plan.px_per_mm = kDrawn;
    plan.width_mm = 8 + 38 * static_cast<double>(frames.size()), plan.height_mm = 40;
    plan.seed = seed;
    StripPlan strip;
    strip.centre_x = plan.width_mm / 2, strip.centre_y = 20, strip.angle_deg = 0;
    strip.frames = std::move(frames);
    plan.strips.push_back(strip);
    const DrawnSheet sheet = draw(plan);
    const Image<LinearRgbi>& pixels = sheet.overview.pixels;
    Film film;
    film.light = cv::Mat(static_cast<int>(pixels.height()), static_cast<int>(pixels.width()), CV_32FC3);
    for (int y = 0; y < film.light.rows; ++y)
        for (int x = 0; x < film.light.cols; ++x) film.light.at<cv::Vec3f>(y, x) = {pixels(x, y).r, pixels(x, y).g, pixels(x, y).b};
    for (const auto& frame : sheet.frames) film.middles.push_back(centre(frame.corners) * (1 / kDrawn));
    return film;
}

synthetic::CopyCamera camera_with(const LensModel& lens, double px_per_mm) {
    synthetic::CopyCamera camera;
    camera.width = 1200, camera.height = 800;
    camera.px_per_mm = px_per_mm;
    camera.lens = {lens.k1, lens.k2};
    return camera;
}

Overview overview_of(const cv::Mat& light) {
    Overview overview;
    overview.pixels = Image<LinearRgbi>(light.cols, light.rows);
    for (int y = 0; y < light.rows; ++y)
        for (int x = 0; x < light.cols; ++x) {
            const auto& p = light.at<cv::Vec3f>(y, x);
            overview.pixels(x, y) = {p[0], p[1], p[2], 0};
        }
    overview.scan_width = light.cols, overview.scan_height = light.rows;
    return overview;
}

/// Things straight on the film, over one shot of each frame.
std::vector<StraightThing> things_in_shots(const Film& film, const synthetic::CopyCamera& camera, std::size_t shots) {
    std::vector<StraightThing> all;
    for (std::size_t i = 0; i < shots; ++i) {
        const double n = static_cast<double>(i);
        const synthetic::CopyShot shot{film.middles[i].x + 0.3 * (n - 1), film.middles[i].y - 0.2 * n, 0.7 * n - 0.9, 1, 7 + i, false};
        const Overview overview = overview_of(synthetic::seen_light(camera, shot, film.light, kDrawn));
        const auto layout = find_frames(overview, {.close_up = true});
        REQUIRE(layout);
        for (StraightThing& thing : trace_straight(overview, *layout)) all.push_back(std::move(thing));
    }
    return all;
}

/// Furthest that two lenses differ, within three quarters of the way to the corners, beside a change of scale; pixels.
double furthest_apart(const LensModel& a, const LensModel& b, const synthetic::CopyCamera& camera) {
    const LensView one(a, camera.width, camera.height), other(b, camera.width, camera.height);
    const PointPx middle{camera.width / 2.0, camera.height / 2.0};
    double rr = 0, rd = 0, worst = 0;
    const auto each = [&](const auto& f) {
        for (double y = 0; y <= camera.height; y += 20)
            for (double x = 0; x <= camera.width; x += 20) {
                const PointPx p{x, y}, r = p - middle;
                if (std::hypot(r.x, r.y) < 0.9 * std::hypot(middle.x, middle.y)) f(r, one.seen(p) - other.seen(p));
            }
    };
    each([&](PointPx r, PointPx d) { rr += r.x * r.x + r.y * r.y, rd += r.x * d.x + r.y * d.y; });
    each([&](PointPx r, PointPx d) { worst = std::max(worst, std::hypot(d.x - rd / rr * r.x, d.y - rd / rr * r.y)); });
    return worst;
}

const Film& film() {
    static const Film film = film_of({{.scene = Scene::textured, .seed = 5}, {.scene = Scene::shapes, .seed = 6}, {.scene = Scene::sky, .seed = 7}}, 11);
    return film;
}

}  // namespace

TEST_CASE("a lens is told from the edges of frames, pooled over shots") {
    for (const LensModel& lens : {LensModel{-0.03, 0.005}, LensModel{-0.01, 0.0}, LensModel{0.02, -0.004}, LensModel{0.04, 0.0}}) {
        const synthetic::CopyCamera camera = camera_with(lens, 30);
        const LensFit fit = fit_lens(things_in_shots(film(), camera, 3), camera.width, camera.height);
        CAPTURE(lens.k1, lens.k2, fit.lens.k1, fit.lens.k2, fit.std_k1, fit.bent_px, fit.things);
        REQUIRE(fit.told);
        CHECK(furthest_apart(lens, fit.lens, camera) < 30 * 0.01);  // .01 mm on the film
    }
}

TEST_CASE("rows of perforations tell it more closely") {
    for (const LensModel& lens : {LensModel{-0.03, 0.005}, LensModel{0.02, 0.0}}) {
        const synthetic::CopyCamera camera = camera_with(lens, 21);
        const std::vector<StraightThing> things = things_in_shots(film(), camera, 3);
        CHECK(std::count_if(things.begin(), things.end(), [](const StraightThing& t) { return !t.places.empty(); }) >= 4);
        const LensFit fit = fit_lens(things, camera.width, camera.height);
        CAPTURE(lens.k1, lens.k2, fit.lens.k1, fit.lens.k2, fit.std_k1);
        REQUIRE(fit.told);
        CHECK(furthest_apart(lens, fit.lens, camera) < 21 * 0.008);
    }
}

TEST_CASE("a lens without bending is left alone and nothing tells nothing") {
    const synthetic::CopyCamera camera = camera_with({}, 30);
    const LensFit fit = fit_lens(things_in_shots(film(), camera, 3), camera.width, camera.height);
    CAPTURE(fit.std_k1, fit.bent_px);
    CHECK_FALSE(fit.told);
    CHECK(fit.lens == LensModel{});
    CHECK_FALSE(fit_lens({}, 1200, 800).told);
}

TEST_CASE("the film and a calibration on a drawn grid tell the same lens") {
    const LensModel lens{-0.025, 0.006};
    const synthetic::CopyCamera camera = camera_with(lens, 30);
    const LensFit fit = fit_lens(things_in_shots(film(), camera, 3), camera.width, camera.height);
    REQUIRE(fit.told);
    // A grid of black and white squares of 2 mm, photographed in three poses.
    constexpr int kAcross = 17, kDown = 11;
    constexpr double kSquare = 2;
    cv::Mat board(static_cast<int>(26 * kDrawn), static_cast<int>(40 * kDrawn), CV_32FC3, cv::Scalar::all(0.9));
    for (int j = 0; j <= kDown; ++j)
        for (int i = 0; i <= kAcross; ++i)
            if ((i + j) % 2 == 0)
                cv::rectangle(board,
                              cv::Rect(static_cast<int>((2 + i * kSquare) * kDrawn), static_cast<int>((1 + j * kSquare) * kDrawn),
                                       static_cast<int>(kSquare * kDrawn), static_cast<int>(kSquare * kDrawn)),
                              cv::Scalar::all(0.05), cv::FILLED);
    std::vector<std::vector<cv::Point3f>> places;
    std::vector<std::vector<cv::Point2f>> seen;
    for (const double tilt : {-1.5, 0.0, 2.0}) {
        const cv::Mat light = synthetic::seen_light(camera, {20, 13, tilt, 1, 3, false}, board, kDrawn);
        cv::Mat grey;
        cv::extractChannel(light, grey, 1);
        grey.convertTo(grey, CV_8U, 255 / camera.lamp[1]);
        std::vector<cv::Point2f> corners;
        REQUIRE(cv::findChessboardCorners(grey, {kAcross, kDown}, corners));
        cv::cornerSubPix(grey, corners, {9, 9}, {-1, -1}, {cv::TermCriteria::EPS + cv::TermCriteria::COUNT, 60, 1e-3});
        seen.push_back(corners);
        places.emplace_back();
        for (int j = 0; j < kDown; ++j)
            for (int i = 0; i < kAcross; ++i) places.back().emplace_back(static_cast<float>(i * kSquare), static_cast<float>(j * kSquare), 0.0F);
    }
    // Flat and square on, a grid cannot tell the focal length: it is given, as half the diagonal, which makes the library's terms ours.
    const double half = 0.5 * std::hypot(camera.width, camera.height);
    cv::Mat matrix = (cv::Mat_<double>(3, 3) << half, 0, camera.width / 2.0 - 0.5, 0, half, camera.height / 2.0 - 0.5, 0, 0, 1),
            terms = cv::Mat::zeros(1, 5, CV_64F);
    std::vector<cv::Mat> turns, moves;
    const int given =
        cv::CALIB_USE_INTRINSIC_GUESS | cv::CALIB_FIX_FOCAL_LENGTH | cv::CALIB_FIX_PRINCIPAL_POINT | cv::CALIB_ZERO_TANGENT_DIST | cv::CALIB_FIX_K3;
    const double left = cv::calibrateCamera(places, seen, {camera.width, camera.height}, matrix, terms, turns, moves, given);
    const LensModel theirs{terms.at<double>(0), terms.at<double>(1)};
    CAPTURE(left, theirs.k1, theirs.k2, fit.lens.k1, fit.lens.k2);
    CHECK(furthest_apart(theirs, lens, camera) < 0.1);
    CHECK(furthest_apart(theirs, fit.lens, camera) < 30 * 0.01);
}
