// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/density/measure_density.h"
#include "basefog/core/pixel_source.h"
#include "basefog/frames/find_frames.h"
#include "basefog/residue/refine_match.h"
#include "residue/drawn_sheet.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <opencv2/core.hpp>
#include <utility>

using namespace basefog;

namespace {

/// Of the issue: registration to a tenth of a pixel.
constexpr double kShiftTolerancePx = 0.1;

}  // namespace

TEST_CASE("infrared is brought into register to a tenth of a pixel, whatever its focus") {
    struct Case {
        double x, y, blur;
    };
    for (const Case& c : {Case{0.7, -0.4, 0}, Case{-1.35, 2.2, 0.5}, Case{0.25, 0.5, 0.8}}) {
        synthetic::SheetSpec spec = drawn_sheet::dirty_sheet(7, true, 2);
        spec.scanner.infrared_shift_x_px = c.x;
        spec.scanner.infrared_shift_y_px = c.y;
        spec.scanner.infrared_blur_px = c.blur;
        const drawn_sheet::Measured m = drawn_sheet::measure(spec);
        REQUIRE(m.residue.infrared.has_value());
        const InfraredMatch& match = m.residue.infrared->match;
        INFO("drawn " << c.x << " " << c.y << " blur " << c.blur << " found " << match.shift_x << " " << match.shift_y << " +- " << match.std_uncertainty
                      << " focus " << match.focus << " places " << match.places);
        // At the corners, where the change of shift adds to it.
        for (const PointPx& p : {PointPx{100, 100}, PointPx{m.overview.scan_width - 100.0, 100.0}, PointPx{100.0, m.overview.scan_height - 100.0}}) {
            const PointPx q = match.at(p);
            CHECK(q.x - p.x == Approx(c.x).margin(kShiftTolerancePx));
            CHECK(q.y - p.y == Approx(c.y).margin(kShiftTolerancePx));
        }
        // Variances add; the generator's own cubic shift softens by up to 0.16, and curvature from samples a pixel apart reads a little low.
        CHECK(match.focus == Approx(c.blur * c.blur).margin(0.2));
    }
}

TEST_CASE("infrared is brought into register to a tenth of the scan's pixel on a picture though the sheet was measured coarsely") {
    constexpr double kDpi = 1200, kX = 1.3, kY = -2.2;
    constexpr int kFactor = 4;
    synthetic::SheetSpec spec = drawn_sheet::dirty_sheet(11, true, 2, kDpi);
    spec.strips.resize(1);
    spec.scanner.infrared_shift_x_px = kX;
    spec.scanner.infrared_shift_y_px = kY;
    spec.scanner.infrared_blur_px = 0.5;
    spec.dust.specks_per_cm2 = 1;
    const drawn_sheet::Measured m = drawn_sheet::measure(spec, kFactor);
    REQUIRE(m.residue.infrared.has_value());
    const InfraredMatch& coarse = m.residue.infrared->match;
    REQUIRE(m.layout.strips.size() == 1);
    Image<LinearRgbi> scan(m.sheet.light.cols, m.sheet.light.rows);
    for (int y = 0; y < m.sheet.light.rows; ++y)
        for (int x = 0; x < m.sheet.light.cols; ++x) {
            const auto& p = m.sheet.light.at<cv::Vec4f>(y, x);
            scan(x, y) = {p[0], p[1], p[2], p[3]};
        }
    const PxRect whole{0, 0, scan.width(), scan.height()};
    int told = 0;
    for (const FrameBox& frame : m.layout.strips[0].frames) {
        const PxRect rect = intersection(bounds(frame.corners), whole);
        const ViewSource picture(rect, std::as_const(scan).view().part(rect.x0, rect.y0, rect.width(), rect.height()));
        const auto match = refine_match(picture, coarse, {});
        REQUIRE(match.has_value());
        const PointPx p = centre(frame.corners), q = match->at(p), before = coarse.at(p);
        INFO("coarse " << before.x - p.x << " " << before.y - p.y << " +- " << coarse.std_uncertainty << ", then " << q.x - p.x << " " << q.y - p.y << " +- "
                       << match->std_uncertainty << " from " << match->places);
        if (*match == coarse) continue;
        ++told;
        CHECK(q.x - p.x == Approx(kX).margin(kShiftTolerancePx));
        CHECK(q.y - p.y == Approx(kY).margin(kShiftTolerancePx));
        CHECK(match->std_uncertainty < kShiftTolerancePx);
    }
    CHECK(told > 0);
}

TEST_CASE("a picture that says nothing of infrared leaves the sheet's register as it is") {
    Image<LinearRgbi> even(600, 600, {0.3F, 0.2F, 0.1F, 0.9F});
    InfraredMatch of_sheet;
    of_sheet.shift_x = 1.5;
    of_sheet.std_uncertainty = 0.3;
    of_sheet.places = 40;
    const auto match = refine_match(ViewSource({0, 0, 600, 600}, std::as_const(even).view()), of_sheet, {});
    REQUIRE(match.has_value());
    CHECK(*match == of_sheet);
}
