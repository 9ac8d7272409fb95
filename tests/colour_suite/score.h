// SPDX-License-Identifier: GPL-3.0-or-later
// Positives against the scenes that were photographed: CIEDE2000 [Sharma2005] over CIE L*a*b*, lightness matched by rank, as an exposure and a tone
// curve are a matter of taste and a cast is not.
#pragma once

#include "support/synthetic_scenes.h"

#include <opencv2/core.hpp>

#include <string>
#include <vector>

namespace colour_suite {

struct SceneScore {
    double median = 0;              ///< CIEDE2000 over the picture
    double cast_a = 0, cast_b = 0;  ///< mean of positive less scene
    double saturation = 1;          ///< of the positive's a* and b*, against the scene's: the slope, each about its mean
};
struct ChartScore {
    double mean = 0;                        ///< CIEDE2000 over the 24 patches; lightness matched by the six greys
    double grey_chroma = 0, crossover = 0;  ///< of the greys: mean; the box that the five lighter ones' a* and b* span, its diagonal
};

/// The positive in `path`: sRGB, 8 or 16 bits, one channel or three. Throws std::runtime_error when it cannot be read.
[[nodiscard]] cv::Mat read_positive(const std::string& path);
[[nodiscard]] SceneScore score_scene(const cv::Mat& positive, const synthetic::SceneSpec& scene);
[[nodiscard]] ChartScore score_chart(const cv::Mat& positive);

/// Of values in any order; 0 <= q <= 1. NaN of none.
[[nodiscard]] double quantile(std::vector<double> values, double q);
[[nodiscard]] double mean(const std::vector<double>& values);

}  // namespace colour_suite
