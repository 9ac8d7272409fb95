// SPDX-License-Identifier: GPL-3.0-or-later
// From a strip's residue density to its figures, grade and patterns.
#pragma once

#include "basefog/residue/types.h"
#include "residue/specks.h"

namespace basefog::residue {

/// What was told of one strip, before it is summed up.
struct StripEvidence {
    StripPlanes planes;
    cv::Mat residue;  ///< CV_32F, with the veil; 0 where none is told
    cv::Mat judged;   ///< CV_8U: where it can be told
    cv::Mat likely;   ///< CV_8U: pictures' pixels that residue explains better than dyes; empty where none are
    SpeckMap specks;
    double noise = 0;
    double veil = 0, veil_std = 0;
    bool veil_separable = false;
    bool by_infrared = false;
};

/// Share of the judged film, without dust, whose residue is denser than the threshold; percent.
[[nodiscard]] double area_percent(const StripEvidence& evidence, double threshold);
/// The same share of what is wider than a speck.
[[nodiscard]] double smeared_percent(const StripEvidence& evidence, double threshold);
[[nodiscard]] ResidueGrade grade_of(double area_percent, double veil, double clean_below);
[[nodiscard]] StripResidue summarise(const StripEvidence& evidence, const StripBox& box, int overview_factor, double area_threshold);

}  // namespace basefog::residue
