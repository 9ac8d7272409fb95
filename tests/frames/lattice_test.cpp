// SPDX-License-Identifier: GPL-3.0-or-later
// An outside check: OpenCV finds the perforations of a drawn strip and its least-squares solver the strip's pose from
// their published lattice (pitch 4.750 mm, [SMPTE 102-2002] Table 1; holes 2.794 x 1.981 mm at 2.01 mm from the edge,
// secondary source and from memory). Frames carried over by that pose must lie where the finder puts them.
#include "drawn_sheet.h"

#include "basefog/frames/find_frames.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <opencv2/core.hpp>
#include <opencv2/imgproc.hpp>

using namespace basefog;
using namespace basefog::drawn;

namespace {

/// Light-weighted centres of the holes, overview pixels, (0, 0) at the image's corner.
std::vector<cv::Point2d> hole_centres(const Overview& overview, double px_per_mm) {
    const int w = static_cast<int>(overview.pixels.width()), h = static_cast<int>(overview.pixels.height());
    cv::Mat blue(h, w, CV_32F);
    for (int y = 0; y < h; ++y) {
        for (int x = 0; x < w; ++x) blue.at<float>(y, x) = overview.pixels(x, y).b;
    }
    cv::Mat labels, stats, centres;
    const cv::Mat bright = blue > 0.3;  // masked base lets 0.2 through, bare light 0.9
    const int n = cv::connectedComponentsWithStats(bright, labels, stats, centres, 4);
    std::vector<cv::Point2d> out;
    for (int i = 1; i < n; ++i) {
        const int* s = stats.ptr<int>(i);
        const double mm2 = s[cv::CC_STAT_AREA] / (px_per_mm * px_per_mm);
        if (mm2 < 4.5 || mm2 > 7) continue;
        const cv::Rect box = cv::Rect(s[0] - 2, s[1] - 2, s[2] + 4, s[3] + 4) & cv::Rect(0, 0, w, h);
        cv::Mat above = blue(box) - 0.19;
        cv::threshold(above, above, 0.02, 0, cv::THRESH_TOZERO);
        const cv::Moments m = cv::moments(above);
        out.emplace_back(m.m10 / m.m00 + box.x + 0.5, m.m01 / m.m00 + box.y + 0.5);
    }
    return out;
}

}  // namespace

TEST_CASE("frames agree with the pose that OpenCV solves from the perforations") {
    SheetPlan plan;
    plan.px_per_mm = 10;
    plan.width_mm = 170;
    plan.falloff = 0;
    plan.noise = 0.001;
    StripPlan strip = strip_of(4, 7);
    strip.centre_x = 84;
    strip.angle_deg = 1.1;
    strip.base = {0.12, 0.35, 0.70};
    plan.strips = {strip};
    const DrawnSheet sheet = draw(plan);
    const double length = 4 * 38 + 2;

    // Which hole each centre is, by the known rough place; then x = a u - b v + c, y = b u + a v + d by least squares.
    const std::vector<cv::Point2d> centres = hole_centres(sheet.overview, plan.px_per_mm);
    REQUIRE(centres.size() > 50);
    cv::Mat left(2 * static_cast<int>(centres.size()), 4, CV_64F), right(2 * static_cast<int>(centres.size()), 1, CV_64F), pose;
    const double rough = 1.1 * CV_PI / 180;
    for (int i = 0; i < static_cast<int>(centres.size()); ++i) {
        const cv::Point2d p = centres[static_cast<std::size_t>(i)] / plan.px_per_mm - cv::Point2d(84, 30);
        const double along = p.x * std::cos(rough) + p.y * std::sin(rough) + length / 2, across = -p.x * std::sin(rough) + p.y * std::cos(rough);
        const double u = strip.hole_phase + std::round((along - strip.hole_phase) / 4.750) * 4.750;
        const double v = across < 0 ? 2.01 + 2.794 / 2 : 34.975 - 2.01 - 2.794 / 2;
        const double rows[2][4] = {{u, -v, 1, 0}, {v, u, 0, 1}};
        for (int k = 0; k < 2; ++k) {
            for (int c = 0; c < 4; ++c) left.at<double>(2 * i + k, c) = rows[k][c];
        }
        right.at<double>(2 * i) = centres[static_cast<std::size_t>(i)].x;
        right.at<double>(2 * i + 1) = centres[static_cast<std::size_t>(i)].y;
    }
    REQUIRE(cv::solve(left, right, pose, cv::DECOMP_SVD));
    const double a = pose.at<double>(0), b = pose.at<double>(1), c = pose.at<double>(2), d = pose.at<double>(3);

    const auto layout = find_frames(sheet.overview, {});
    REQUIRE(layout.has_value());
    REQUIRE(layout->strips.size() == 1);
    REQUIRE(layout->strips[0].frames.size() == 4);
    CHECK(layout->strips[0].angle_deg == Approx(std::atan2(b, a) * 180 / CV_PI).margin(0.01));
    // The finder's own lattice against the solver's: the solver fixed the pitch and fitted the scale.
    REQUIRE(layout->strips[0].perforations.has_value());
    const double pitch_by_solver = 4.750 * std::hypot(a, b) / plan.px_per_mm;
    CHECK(layout->strips[0].perforations->pitch.value.value() == Approx(pitch_by_solver).margin(0.001));  // 0.02 mm over twenty holes
    const double top = (34.975 - 24) / 2;
    for (int f = 0; f < 4; ++f) {
        const double u0 = 2 + f * 38.0;
        const double mm[4][2] = {{u0, top}, {u0 + 36, top}, {u0 + 36, top + 24}, {u0, top + 24}};
        for (int k = 0; k < 4; ++k) {
            const PointPx want{a * mm[k][0] - b * mm[k][1] + c, b * mm[k][0] + a * mm[k][1] + d};
            // The holes' own centres are good to 0.01 mm, textured picture edges likewise.
            CHECK(distance(layout->strips[0].frames[static_cast<std::size_t>(f)].corners[k], want) / plan.px_per_mm < 0.02);
        }
    }
}
