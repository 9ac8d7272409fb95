// SPDX-License-Identifier: GPL-3.0-or-later
// One place of a picture where something blocks infrared and colours alike: how the two lie against each other there.
#pragma once

#include "basefog/core/image.h"
#include "basefog/core/units.h"

#include <Eigen/Core>
#include <cstdint>

namespace basefog::residue {

/// Side of a place compared. Chosen: a few widths of a blurred edge; safe range 12 to 40.
inline constexpr int kPlace = 20;
/// A place counts when infrared varies by this share of full scale in it, and colour explains so much of that (squared correlation).
/// Chosen: dyes alone vary infrared by less.
inline constexpr double kLeastContrast = 0.03, kLeastExplained = 0.90;
/// Fewer say nothing.
inline constexpr std::size_t kFewestPlaces = 6;
/// Pixels of a place err together (blur, an edge's own course): each counts for a few. Chosen.
inline constexpr double kTogether = 10;
/// What no number of places averages away, pixels. Measured: worst error over invented sheets 0.05 (registration_test).
inline constexpr double kSharedErrorPx = 0.03;

struct Place {
    std::int64_t x = 0, y = 0;  ///< first pixel
    double contrast = 0;
};


[[nodiscard]] inline float colour_of(const LinearRgbi& p) { return (p.r + p.g + p.b) / 3; }
/// By cubic interpolation; beyond the picture its edge is repeated.
[[nodiscard]] double infrared_at(const Image<LinearRgbi>& pixels, double x, double y);
/// Standard deviation of infrared over the kPlace x kPlace pixels from (x, y).
[[nodiscard]] double infrared_contrast(View<const LinearRgbi> pixels, std::int64_t x, std::int64_t y);

/// Sums over a place that say how colour, its curvature and the infrared's slopes go together, all about their means.
struct Fit {
    double explained = 0;  ///< squared correlation
    double misfit = 0;     ///< variance of what colour leaves unexplained
    Eigen::Vector2d right = Eigen::Vector2d::Zero();
    Eigen::Matrix2d normal = Eigen::Matrix2d::Zero();
    double curvature_right = 0, curvature_normal = 0;
};

/// `focus`: by how much infrared is already known to be softer, variance in pixels squared.
[[nodiscard]] Fit fit_place(const Image<LinearRgbi>& pixels, const Place& place, double dx, double dy, double focus);

}  // namespace basefog::residue
