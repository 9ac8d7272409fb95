// SPDX-License-Identifier: GPL-3.0-or-later
// Small pure statistics: distributions, medians with their intervals, and the correction for many questions at once.
#pragma once

#include <optional>
#include <vector>

namespace basefog::history_room {

struct Interval {
    double low = 0, high = 0;
    [[nodiscard]] bool holds(double value) const { return low <= value && value <= high; }
    friend bool operator==(const Interval&, const Interval&) = default;
};

/// Of a copy; the mean of the middle two for an even count. Must not be empty.
[[nodiscard]] double median(std::vector<double> values);
/// 1.4826 times the median distance from the median: the standard deviation of normal noise, whatever a few outliers do.
[[nodiscard]] double robust_std(const std::vector<double>& values);

[[nodiscard]] double normal_cdf(double z);
[[nodiscard]] double normal_quantile(double p);
/// Student's t; `df` > 0, need not be whole.
[[nodiscard]] double student_cdf(double t, double df);
[[nodiscard]] double student_quantile(double p, double df);
/// P(|T| >= |t|), exact in the far tail where 1 - cdf would be rounded to 0.
[[nodiscard]] double student_two_sided(double t, double df);

/// A median with the interval between two order statistics: it holds the median of any continuous distribution with at least
/// the asked probability, by the binomial distribution of the count below it [Thompson1936]. Absent when there are too few values.
struct MedianEstimate {
    double value = 0;
    std::optional<Interval> interval;
};
[[nodiscard]] MedianEstimate median_with_interval(std::vector<double> values, double level);

/// p values adjusted so that claiming those below a level is wrong about any of them with at most that probability, however
/// they depend on each other [Holm1979].
[[nodiscard]] std::vector<double> holm_adjusted(const std::vector<double>& p_values);

}  // namespace basefog::history_room
