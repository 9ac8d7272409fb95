// SPDX-License-Identifier: GPL-3.0-or-later
// The exact place of one picture edge, from many short profiles across it.
#pragma once

#include "strip_cells.h"

#include <vector>

namespace basefog::frames {

enum class Side { left, right, top, bottom };

/// Where to look: `at` is the edge's expected place (u for left and right, v for top and bottom), `from`..`to` the stretch
/// along it, `clear` how far outside the film can be taken for base (half the gap, or the rebate), all mm.
struct EdgeQuery {
    Side side = Side::left;
    double at = 0, from = 0, to = 0, clear = 0;
    double blur_guard = 0.25;     ///< mm either side of the expected place that belong to neither level
    bool beside_picture = false;  ///< outside lies another picture rather than base
};

/// One profile's answer. The offset is positive towards the picture's inside.
struct EdgePoint {
    double along = 0, offset = 0, weight = 0;
};
struct EdgePoints {
    std::vector<EdgePoint> points;
    double band = 0;        ///< mm of edge in each
    double seen_share = 0;  ///< of the bands, those with a usable step
};

/// Light where the blurred step is half way between its two levels, in linear light: blur is a weighted mean of
/// light, symmetric about the edge, so that this place does not move with blur.
[[nodiscard]] EdgePoints look_across(const Overview& overview, const SheetLight& light, const Pose& pose, const BaseLevel& base, const EdgeQuery& query);

/// Is what was found at the query's place a step, with level film outside? Light that fades (a leak, a leader's end) passes for one where it is asked for.
[[nodiscard]] bool steps_sharply(const Overview& overview, const SheetLight& light, const Pose& pose, const BaseLevel& base, const EdgeQuery& query);

/// One number for an edge that is perpendicular to u or v.
struct EdgeFit {
    bool seen = false;
    double at = 0, std = 1;  ///< mm
    double share = 0;        ///< of the profiles' weight that agrees
};
[[nodiscard]] EdgeFit settle(const EdgePoints& points, const EdgeQuery& query);

}  // namespace basefog::frames
