// SPDX-License-Identifier: GPL-3.0-or-later
// A sheet without anything that blurs a measurement, for tests of the generator itself.
#pragma once

#include "support/synthetic_film.h"

#include <cmath>
#include <utility>
#include <vector>

namespace synthetic {

/// One strip on bare glass, without noise, blur, stray light or falloff, so that light is transmittance.
inline SheetSpec ideal_sheet(double dpi, std::vector<FrameSpec> frames) {
    SheetSpec spec;
    spec.dpi = dpi;
    spec.noise = false;
    spec.scanner.white = 1;
    spec.scanner.falloff = spec.scanner.flare = spec.scanner.blur_px = 0;
    spec.scanner.lean = {0, 0, 0};
    StripSpec strip;
    strip.roll = "T1";
    strip.frames = std::move(frames);
    strip.marks = EdgeMarks::none;
    strip.gap_jitter = 0;
    strip.x = 3;
    strip.y = 4;
    spec.strips = {strip};
    spec.width = strip_length(strip) + 6;
    spec.height = 43;
    return spec;
}

inline double light(const Sheet& sheet, int row, int col, int channel) { return sheet.light.ptr<float>(row)[col * sheet.light.channels() + channel]; }

/// Density at a place in pixels, nearest sample.
inline double density_at(const Sheet& sheet, double x, double y, int channel = 1) {
    return -std::log10(light(sheet, static_cast<int>(y), static_cast<int>(x), channel));
}

}  // namespace synthetic
