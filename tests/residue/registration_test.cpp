// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/density/measure_density.h"
#include "basefog/frames/find_frames.h"
#include "residue/drawn_sheet.h"

#include <catch2/catch.hpp>
#include <cmath>

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
