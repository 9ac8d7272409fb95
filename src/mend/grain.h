// SPDX-License-Identifier: GPL-3.0-or-later
// Grain of mended film beside that of the film about it.
#pragma once

#include "basefog/core/image.h"
#include "basefog/mend/types.h"

#include <opencv2/core.hpp>

namespace basefog::mending {

/// Pixels beyond a part that decide about those within it, after so many windows upon another.
[[nodiscard]] int grain_reach(double px_per_mm, int windows);

/// CV_32F. What each pixel's density of one colour differs by from the mean of its neighbours: grain, noise, and the picture's finest texture.
[[nodiscard]] cv::Mat fine_structure(View<const LinearRgbi> pixels, float LinearRgbi::*colour, float flare);

/// CV_32F. Variance of the fine structure about each pixel over a window of kGrainWindowMm, where `mask` (CV_8U, widened by a pixel) is not.
[[nodiscard]] cv::Mat grain_about(const cv::Mat& fine, const cv::Mat& mask, double px_per_mm);

struct Division {
    cv::Mat where;    ///< CV_8U: pixels that were divided
    cv::Mat density;  ///< CV_32F: by how much
    cv::Mat mask;     ///< CV_8U: all that is not sound film
};

/// A scanner's noise is a larger share of what little light passes a defect: divided pixels come out rougher than the film about them, by a
/// variance that goes as the square of the gain. That much of their fine structure is taken off.
void quieten(View<LinearRgbi> pixels, const Division& division, const LinearRgbi& flare, double px_per_mm);

}  // namespace basefog::mending
