// SPDX-License-Identifier: GPL-3.0-or-later
// Perforations in a shot of unknown scale, wherever they are.
#pragma once

#include "basefog/frames/register_shots.h"

#include <opencv2/core.hpp>

namespace basefog::frames {

/// Rows of holes that are alike, upright rectangles of a perforation's proportions, evenly spaced; empty where there is no such row. `density` as by
/// densities(), of an overview with this factor.
[[nodiscard]] ShotHoles find_holes(const cv::Mat& density, int factor);

}  // namespace basefog::frames
