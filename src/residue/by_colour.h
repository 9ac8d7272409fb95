// SPDX-License-Identifier: GPL-3.0-or-later
// Residue density without infrared: neutral density on clear film, where the base is known.
#pragma once

#include "residue/strip_planes.h"

namespace basefog::residue {

struct ColourResidue {
    cv::Mat density;  ///< CV_32F, 0 where none is told
    cv::Mat judged;   ///< CV_8U: where it can be told at all
    double noise = 0;
};
[[nodiscard]] ColourResidue residue_by_colour(const StripPlanes& strip);

}  // namespace basefog::residue
