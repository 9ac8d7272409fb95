// SPDX-License-Identifier: GPL-3.0-or-later
// What lies on the film and is not picture: backing left over, dust, fibres, scratches; as density fields.
#pragma once

#include <opencv2/core.hpp>

#include <cstdint>

namespace synthetic {

struct Residue;
struct Dust;

/// Raster of a strip's residue density, s along columns and t along rows; CV_32F, `kResiduePxPerMm`.
inline constexpr double kResiduePxPerMm = 12;
[[nodiscard]] cv::Mat draw_residue(const Residue& residue, double length, double width, int frames, std::uint64_t seed);

/// Dust, fibres and scratches over a whole sheet; CV_32F density, the sheet's pixels.
[[nodiscard]] cv::Mat draw_dust(const Dust& dust, cv::Size size, double px_per_mm, std::uint64_t seed);

}  // namespace synthetic
