// SPDX-License-Identifier: GPL-3.0-or-later
// Where along a short way across a picture's edge the density rises.
#pragma once

#include "basefog/scan/types.h"

#include <opencv2/core.hpp>

#include <optional>

namespace basefog::frames {

/// A step in density counts whole from here on; grain and dust stay far below. Chosen.
inline constexpr double kWholeStep = 0.06;

/// Density (any zero) as the mean of the channels' logarithms, slightly smoothed: CV_32F, overview size.
[[nodiscard]] cv::Mat densities(const Overview& overview);
/// Bilinear, held at the borders; (0, 0) is the first pixel's middle.
[[nodiscard]] double sample(const cv::Mat& m, cv::Point2d p);
/// Where, along the way from the rebate into the picture, a piece of the edge has its density half gained; none where it gains none. As a distance from the
/// way's middle. `piece` pixels long from `from`, `reach` to either side; `along` and `inwards` are unit vectors.
[[nodiscard]] std::optional<double> crossing(const cv::Mat& density, cv::Point2d from, cv::Point2d along, cv::Point2d inwards, double piece, double reach);

}  // namespace basefog::frames
