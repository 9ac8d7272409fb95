// SPDX-License-Identifier: GPL-3.0-or-later
// Reads frame numbers printed along a film's edge, whichever way round the film lies.
#pragma once

#include <opencv2/core.hpp>
#include <string>

namespace basefog::frames {

/// How a strip lies against its print.
struct FiguresRead {
    std::string text;       ///< in the print's own reading order; empty when nothing is certain
    bool turned = false;    ///< print stands on its head
    bool mirrored = false;  ///< print is mirror writing
    double lead = 0;        ///< natural log by which this way beats the next best
};

/// `band`: CV_32F density above base of one edge, as the strip is read; `px_per_mm` of the band.
[[nodiscard]] FiguresRead read_figures(const cv::Mat& band, double px_per_mm);

/// Certain enough to act on.
[[nodiscard]] bool is_certain(const FiguresRead& read);

}  // namespace basefog::frames
