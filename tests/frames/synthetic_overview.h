// SPDX-License-Identifier: GPL-3.0-or-later
// An invented sheet's light as the overview of a scan.
#pragma once

#include "basefog/scan/types.h"
#include "support/synthetic_film.h"

namespace basefog {

inline Overview overview_of(const synthetic::Sheet& sheet, double dpi) {
    Overview overview;
    overview.pixels = Image<LinearRgbi>(sheet.light.cols, sheet.light.rows);
    for (int y = 0; y < sheet.light.rows; ++y)
        for (int x = 0; x < sheet.light.cols; ++x) {
            const float* p = sheet.light.ptr<float>(y) + static_cast<std::ptrdiff_t>(x) * sheet.light.channels();
            overview.pixels(x, y) = {p[0], p[1], p[2], 0};
        }
    overview.scan_width = sheet.light.cols;
    overview.scan_height = sheet.light.rows;
    overview.scan_resolution = PixelsPerMm(dpi / 25.4);
    return overview;
}

}  // namespace basefog
