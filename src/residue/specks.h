// SPDX-License-Identifier: GPL-3.0-or-later
// Small opaque things: dust, fibres, scratches and specks of carbon.
#pragma once

#include "basefog/residue/types.h"
#include "residue/strip_planes.h"

#include <vector>

namespace basefog::residue {

struct Speck {
    int label = 0;  ///< in SpeckMap::labels
    cv::Rect box;
    double area_mm2 = 0;
    double length_mm = 0, width_mm = 0;
    double angle_deg = 0;  ///< of its length, on the overview
    double peak = 0;       ///< density above what is around it
    double steepness = 0;  ///< its steepest flank, per pixel, as a share of the peak
    bool sharp = false;    ///< as sharp as the scanner shows anything on this sheet
    bool opaque = false;
    bool large = false;
    bool fibre = false;          ///< long and thin, across the travel or curled
    bool line = false;           ///< long and thin along the travel
    Defect kind = Defect::none;  ///< decided by classify_specks
};
struct SpeckMap {
    cv::Mat labels;  ///< CV_32S, 0: none
    std::vector<Speck> specks;
};

/// Specks in a plane of neutral density whose pixels have the given noise.
[[nodiscard]] SpeckMap specks_in_residue(const cv::Mat& residue, const StripPlanes& strip, double noise);
/// Specks by colour alone: dark alike in all three channels, and against the picture's own texture.
[[nodiscard]] SpeckMap specks_by_colour(const StripPlanes& strip, double noise);

/// What classify_specks needs to know of a strip.
struct SpeckSetting {
    double visible_mm2 = 0;
    bool smeared = false;  ///< it carries residue apart from specks
};
/// Dust falls on every strip of a sheet alike; specks beyond that, on a strip that carries residue, are carbon.
void classify_specks(std::vector<SpeckMap>& maps, const std::vector<SpeckSetting>& settings);

}  // namespace basefog::residue
