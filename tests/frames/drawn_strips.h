// SPDX-License-Identifier: GPL-3.0-or-later
// Sheets of a few strips drawn for one difficulty each.
#pragma once

#include "basefog/frames/types.h"
#include "support/synthetic_film.h"

#include <algorithm>
#include <cmath>
#include <vector>

namespace basefog::test {

/// A sheet just large enough for its strips, with a margin in mm.
inline synthetic::SheetSpec sheet_around(std::vector<synthetic::StripSpec> strips, double dpi, double margin) {
    synthetic::SheetSpec spec;
    spec.dpi = dpi;
    spec.width = spec.height = 0;
    for (const synthetic::StripSpec& strip : strips) {
        spec.width = std::max(spec.width, strip.x + synthetic::strip_length(strip) + margin);
        spec.height = std::max(spec.height, strip.y + strip.film_width + margin);
    }
    spec.strips = std::move(strips);
    return spec;
}

inline double worst_corner_mm(double dpi, const FrameBox& found, const synthetic::FrameTruth& truth) {
    double worst = 0;
    for (std::size_t i = 0; i < 4; ++i)
        worst = std::max(worst, std::hypot(found.corners[i].x - truth.corners_px[i][0], found.corners[i].y - truth.corners_px[i][1]) * 25.4 / dpi);
    return worst;
}

}  // namespace basefog::test
