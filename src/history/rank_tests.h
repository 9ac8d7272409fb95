// SPDX-License-Identifier: GPL-3.0-or-later
// Lines and comparisons that assume no distribution: Theil's line with Sen's interval, Kendall's S within strata, the rank sum
// with the Hodges-Lehmann shift. Few values: exact distributions; many, or ties: normal, with the variance corrected for ties.
#pragma once

#include "history/statistics.h"

#include <vector>

namespace basefog::history_room {

struct RankLine {
    double slope = 0;                  ///< median of the slopes between pairs
    double intercept = 0;              ///< median of y - slope x
    std::optional<Interval> interval;  ///< of the slope; absent where too few pairs can bear the level
    double p_value = 1;                ///< two-sided, of Kendall's S
    int n = 0;
};
/// Theil's line and Sen's interval [Sen1968]. nullopt when no two x differ. `x` and `y` finite and as many as each other.
[[nodiscard]] std::optional<RankLine> theil_sen(const std::vector<double>& x, const std::vector<double>& y, double level);

struct Point {
    double x = 0, y = 0;
};
/// The same within strata: only pairs of one stratum are compared, so that strata may lie at different heights
/// (for seasons as strata: [Hirsch1982]). The intercept is then 0.
[[nodiscard]] std::optional<RankLine> theil_sen_within(const std::vector<std::vector<Point>>& strata, double level);

/// Probability of each count of inversions 0 .. n(n-1)/2 among n values in random order.
[[nodiscard]] std::vector<double> inversion_probabilities(int n);

struct Shift {
    double value = 0;                  ///< median of all b - a [HodgesLehmann1963]
    std::optional<Interval> interval;  ///< by inverting the rank sum
    double p_value = 1;                ///< two-sided
};
/// How much higher `b` lies than `a`. Neither empty.
[[nodiscard]] Shift rank_sum_shift(const std::vector<double>& a, const std::vector<double>& b, double level);

/// The fewest groups of each kind for which complete separation would have a two-sided rank-sum p value below `p`.
[[nodiscard]] int groups_needed(double p);

}  // namespace basefog::history_room
