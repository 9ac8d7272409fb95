// SPDX-License-Identifier: GPL-3.0-or-later
// The film's own axis: its edges against bare light, followed at the overview's resolution.
#pragma once

#include "strips.h"

#include <optional>

namespace basefog::frames {

/// v = at0 + slope u + curve u^2 through points (u, v), robustly.
struct Parabola {
    double at0 = 0, slope = 0, curve = 0;
    double at0_std = 0, slope_std = 0, curve_std = 0;
    double spread = 0;    ///< of the points that follow it
    double followed = 0;  ///< share of points that do
    [[nodiscard]] double at(double u) const { return at0 + (slope + curve * u) * u; }
};
struct AxisPoints {
    std::vector<double> u, v;
};
/// Parabolas through one or two rows of points that share slope and curve; each row has its own `at0`. Empty rows stay out.
/// nullopt: too few points, or they do not agree.
[[nodiscard]] std::optional<std::array<Parabola, 2>> fit_rows(const std::array<AxisPoints, 2>& rows, double length, double scale);

/// Places the film's long edges where they are in view, turns and bends the place's pose after them, and settles its ends.
void follow_film_edges(const Overview& overview, const SheetLight& light, StripPlace& place);
/// Turns and bends a place after rows of points parallel to its axis, found in its own millimetres.
void bend_place(StripPlace& place, const Parabola& axis);

/// Factors that make bare light near a place 1, summed over the channels.
using Gains = std::array<double, 3>;
[[nodiscard]] Gains gains_at(const SheetLight& light, const Pose& pose, double u, double v);
/// Mean transmittance of the three channels at a place, bilinear; 0 off the scan.
[[nodiscard]] double mean_light(const Overview& overview, const Gains& gains, const Pose& pose, double u, double v);
/// Where light crosses half way between its two ends, coming from `from` towards `to`; nullopt: the two differ by too little.
struct Crossing {
    double at = 0, contrast = 0;
};
[[nodiscard]] std::optional<Crossing> half_crossing(const std::vector<double>& profile, double first, double step);

}  // namespace basefog::frames
