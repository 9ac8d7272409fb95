// SPDX-License-Identifier: GPL-3.0-or-later
// The pictures' upper and lower edges: one course and one height for the whole strip.
#pragma once

#include "edges.h"
#include "fit.h"

namespace basefog::frames {

/// All points of upper and lower edges.
struct LongEdges {
    std::vector<double> u, top;         ///< from upper edges
    std::vector<double> u_low, bottom;  ///< from lower edges
    std::vector<int> frame, frame_low;
    std::vector<double> weight, weight_low;  ///< by the stretch of edge each point stands for
    double length = 0;                       ///< mm of edge looked at
};
[[nodiscard]] LongEdges look_along(const Overview& overview, const SheetLight& light, const StripFit& fit, double guard);

/// top = at0 + slope u + curve u^2, bottom = top + height.
struct LongFit {
    double at0 = 0, slope = 0, curve = 0, height = 0, std = 0, curve_std = 0;
    double share = 0, top_share = 0, bottom_share = 0;  ///< of the edges' length that follows the line
    [[nodiscard]] double top_at(double u) const { return at0 + (slope + curve * u) * u; }
};
/// `fit` holds the start, which comes from the evidence; robust weights fade with distance beyond `scale`.
[[nodiscard]] LongFit fit_long(const LongEdges& edges, const StripFit& fit, double scale);

/// Frames ride up and down in the gate by some hundredths: each frame's own height, pulled to the common line.
void ride(StripFit& fit, const LongEdges& edges, const LongFit& line);

}  // namespace basefog::frames
