// SPDX-License-Identifier: GPL-3.0-or-later
// How a measurement changes with use in each litre of chemistry: one line per bath, when rolls come in sessions.
//
//   y = height(bath, stratum) + slope(bath) x + session + roll
//
// Rolls of one session share its slips (a degree too warm, half a minute too long), so six rolls are not six independent
// witnesses: the session's part is a random effect. Its variance, and that of rolls, are pooled over all baths and estimated by
// restricted maximum likelihood [Patterson1971]; single baths see too few sessions to know it. A roll far off the others of its
// session is set aside first, so that one fogged roll bends nothing.
#pragma once

#include "history/statistics.h"

#include <optional>
#include <vector>

namespace basefog::history_room {

struct RollPoint {
    int bath = 0;     ///< 0 .. baths - 1
    int session = 0;  ///< any number; sessions of different baths are different even if numbered alike
    int stratum = 0;  ///< rolls are compared only with those of the same stratum (stock) of the bath
    double x = 0, y = 0;
};

struct LitreLine {
    int n = 0, sessions = 0;  ///< that took part
    std::optional<double> slope;
    double std_error = 0, df = 0;
    std::optional<Interval> interval;  ///< of the slope
    double p_value = 1;                ///< two-sided, slope 0
    double x_middle = 0;               ///< mean x of its rolls
    double y_middle = 0;               ///< the line there, at the mean height of its strata
};

struct LitreLines {
    std::vector<LitreLine> lines;  ///< one per bath
    std::vector<bool> set_aside;   ///< one per point
    std::vector<double> levelled;  ///< y of each point moved to its bath's mean height: what a plot shows
    double roll_std = 0, session_std = 0;
    double df = 0;  ///< sessions beyond what the lines use up
};
[[nodiscard]] LitreLines fit_litre_lines(const std::vector<RollPoint>& points, int baths, double level);

}  // namespace basefog::history_room
