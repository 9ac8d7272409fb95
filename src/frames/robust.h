// SPDX-License-Identifier: GPL-3.0-or-later
// Small robust statistics used by several steps of the finder.
#pragma once

#include <vector>

namespace basefog::frames {

/// Middle value; 0 for none.
[[nodiscard]] double median(std::vector<double> values);
/// The value under which this share of them lies; 0 for none.
[[nodiscard]] double at_share(std::vector<double> values, double share);
/// Standard deviation of a normal law with the same median absolute deviation.
[[nodiscard]] double spread(const std::vector<double>& values, double centre);

struct Line {
    double at0 = 0, slope = 0;
    double spread = 0;    ///< of the points it follows
    double followed = 0;  ///< share of points within three spreads
    [[nodiscard]] double at(double x) const { return at0 + slope * x; }
};
/// Line through (x, y) by iterated weights 1 / (1 + (r / scale)^2), from a start.
[[nodiscard]] Line fit_line(const std::vector<double>& x, const std::vector<double>& y, Line start, double scale);

struct Mode {
    double at = 0;
    double share = 0;   ///< of the weight that lies in the window
    double spread = 0;  ///< within the window
    int n = 0;          ///< values in the window
};
/// Where values crowd most: the window of +-`half` with most weight, then the mean inside it.
[[nodiscard]] Mode crowd(const std::vector<double>& values, const std::vector<double>& weights, double half);

}  // namespace basefog::frames
