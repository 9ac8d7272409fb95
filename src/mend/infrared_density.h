// SPDX-License-Identifier: GPL-3.0-or-later
// The neutral density of what lies on the film, pixel by pixel at the scan's own resolution.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/mend/types.h"

#include <opencv2/core.hpp>

namespace basefog::mending {

/// CV_32F. Infrared brought into register and to the colours' sharpness, the dyes' leak and the veil taken off.
[[nodiscard]] cv::Mat neutral_density(View<const LinearRgbi> pixels, PxRect rect, const MendFacts& facts);
/// Standard deviation of a pixel, from neighbours two apart.
[[nodiscard]] float pixel_noise(const cv::Mat& plane);
/// Takes off the median over blocks of a size in pixels, interpolated between their centres.
void level(cv::Mat& plane, double block_px);

}  // namespace basefog::mending
