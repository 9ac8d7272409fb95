// SPDX-License-Identifier: GPL-3.0-or-later
// The neutral density of what lies on the film, pixel by pixel at the scan's own resolution.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/pixel_source.h"
#include "basefog/mend/mend.h"
#include "basefog/mend/types.h"
#include "mend/plane.h"
#include "mend/tiles.h"

#include <opencv2/core.hpp>

namespace basefog::mending {

/// A part of the picture, as a part of the scan.
[[nodiscard]] PxRect on_scan(const cv::Rect& part, PxRect all);

class NeutralDensity {
public:
    /// Infrared brought into register and to the colours' sharpness, the dyes' leak and the veil taken off.
    [[nodiscard]] static Result<NeutralDensity> make(const PixelSource& source, const Tiles& tiles, const MendFacts& facts, const MendMeans& means);
    /// From here on less the median over blocks of a size in pixels, interpolated between their centres.
    [[nodiscard]] Result<void> level(double block_px, const MendMeans& means);
    /// CV_32F, of part's size.
    [[nodiscard]] Result<void> get(const cv::Rect& part, cv::Mat& values) const;

private:
    explicit NeutralDensity(Plane<float> plane) : plane_(std::move(plane)) {}
    Plane<float> plane_;
    cv::Mat blocks_;
};

/// Slightly smoothed; `kSmoothReach` pixels at a part's borders are wrong.
inline constexpr int kSmoothReach = 4;
void smoothed(const cv::Mat& density, cv::Mat& smooth);
/// Standard deviation of a smoothed pixel, from neighbours two apart.
[[nodiscard]] Result<float> pixel_noise(const NeutralDensity& density, const Tiles& tiles, const MendMeans& means);

}  // namespace basefog::mending
