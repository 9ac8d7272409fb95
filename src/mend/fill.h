// SPDX-License-Identifier: GPL-3.0-or-later
// Fills holes from their surroundings, grain and edges included.
#pragma once

#include "basefog/core/image.h"

#include <opencv2/core.hpp>

namespace basefog::mending {

struct FillSettings {
    LinearRgbi flare;      ///< taken off before the log is taken
    double px_per_mm = 1;
};
/// Each hole (8-connected pixels of `hole`) gets the pixels of a nearby place whose rim matches its own, shifted in level so that the
/// rims meet. Sources are neither holes nor in `doubtful`. Returns the number of holes filled.
int fill_holes(View<LinearRgbi> pixels, const cv::Mat& hole, const cv::Mat& doubtful, const FillSettings& settings);

}  // namespace basefog::mending
