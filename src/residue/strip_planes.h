// SPDX-License-Identifier: GPL-3.0-or-later
// One strip cut out of the sheet: densities above its base as planes, and what of it is visible film.
#pragma once

#include "basefog/density/types.h"
#include "basefog/frames/types.h"
#include "basefog/residue/types.h"
#include "basefog/scan/types.h"

#include <array>
#include <opencv2/core.hpp>

namespace basefog::residue {

struct StripPlanes {
    cv::Rect roi;                       ///< in the overview
    std::array<cv::Mat, 4> above_base;  ///< CV_32F: r, g, b, ir; ir empty without infrared
    cv::Mat visible;                    ///< CV_8U: film, its blurred edges left out
    cv::Mat clear;                      ///< CV_8U: base and whatever lies on it
    cv::Mat picture;                    ///< CV_8U
    cv::Mat print;                      ///< CV_8U: where the maker's print may stand; empty where infrared tells
    double px_per_mm = 1;               ///< of the overview
    double travel_deg = 0;              ///< direction of travel, clockwise from +x
    bool silver = false;
};
/// Infrared is brought into register with the colours.
[[nodiscard]] StripPlanes cut_strip(const Overview& overview, const SheetLayout& layout, const RegionMap& regions, const SheetDensity& density, int strip,
                                    const InfraredMatch& match);

/// Standard deviation of a pixel, from neighbours two apart, where `mask` is set.
[[nodiscard]] double pixel_noise(const cv::Mat& plane, const cv::Mat& mask);
/// Centre of the lowest well-filled level of the plane where `mask` is set; 0 for none.
[[nodiscard]] double low_level(const cv::Mat& plane, const cv::Mat& mask);
/// Round structuring element of a diameter in pixels (at least 3, odd).
[[nodiscard]] cv::Mat disc(double diameter_px);

}  // namespace basefog::residue
