// SPDX-License-Identifier: GPL-3.0-or-later
#include "history/statistics.h"

#include "basefog/core/assert.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>

namespace basefog::history_room {

double median(std::vector<double> values) {
    BASEFOG_ASSERT(!values.empty());
    const std::size_t half = values.size() / 2;
    std::nth_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(half), values.end());
    if (values.size() % 2 == 1) return values[half];
    return (values[half] + *std::max_element(values.begin(), values.begin() + static_cast<std::ptrdiff_t>(half))) / 2;
}

double robust_std(const std::vector<double>& values) {
    constexpr double kNormal = 1.482602218505602;  // Defined: 1 / normal quantile of 3/4
    const double centre = median(values);
    std::vector<double> distances(values.size());
    std::transform(values.begin(), values.end(), distances.begin(), [&](double v) { return std::abs(v - centre); });
    return kNormal * median(std::move(distances));
}

double normal_cdf(double z) { return 0.5 * std::erfc(-z / std::sqrt(2.0)); }

namespace {

/// Inverts a rising function by halving; some 200 steps end at neighbouring doubles.
template <class Cdf>
double invert(const Cdf& cdf, double p, double low, double high) {
    while (cdf(low) > p) low *= 2;
    while (cdf(high) < p) high *= 2;
    for (int i = 0; i < 200; ++i) {
        const double middle = low + (high - low) / 2;
        if (middle <= low || middle >= high) break;
        (cdf(middle) < p ? low : high) = middle;
    }
    return low + (high - low) / 2;
}

/// Continued fraction of the incomplete beta function by the modified Lentz method [DLMF8.17, 8.17.22].
double beta_fraction(double a, double b, double x) {
    constexpr double kTiny = 1e-300, kClose = 1e-15;
    double c = 1, d = 1 - (a + b) * x / (a + 1);
    d = 1 / (std::abs(d) < kTiny ? kTiny : d);
    double h = d;
    for (int m = 1; m <= 1000; ++m) {
        const double even = m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m));
        const double odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1));
        for (const double term : {even, odd}) {
            d = 1 + term * d;
            c = 1 + term / c;
            d = 1 / (std::abs(d) < kTiny ? kTiny : d);
            c = std::abs(c) < kTiny ? kTiny : c;
            h *= d * c;
        }
        if (std::abs(d * c - 1) < kClose) break;
    }
    return h;
}

/// Regularised incomplete beta function I_x(a, b) [DLMF8.17].
double beta_ratio(double a, double b, double x) {
    if (x <= 0) return 0;
    if (x >= 1) return 1;
    const double front = std::exp(std::lgamma(a + b) - std::lgamma(a) - std::lgamma(b) + a * std::log(x) + b * std::log1p(-x));
    if (x < (a + 1) / (a + b + 2)) return front * beta_fraction(a, b, x) / a;
    return 1 - front * beta_fraction(b, a, 1 - x) / b;
}

}  // namespace

double normal_quantile(double p) {
    BASEFOG_ASSERT(p > 0 && p < 1);
    return invert([](double z) { return normal_cdf(z); }, p, -1, 1);
}

double student_two_sided(double t, double df) {
    BASEFOG_ASSERT(df > 0);
    if (!std::isfinite(t)) return 0;
    return beta_ratio(df / 2, 0.5, df / (df + t * t));
}

double student_cdf(double t, double df) {
    const double tail = student_two_sided(t, df) / 2;
    return t > 0 ? 1 - tail : tail;
}

double student_quantile(double p, double df) {
    BASEFOG_ASSERT(p > 0 && p < 1 && df > 0);
    return invert([df](double t) { return student_cdf(t, df); }, p, -1, 1);
}

MedianEstimate median_with_interval(std::vector<double> values, double level) {
    BASEFOG_ASSERT(!values.empty() && level > 0 && level < 1);
    std::sort(values.begin(), values.end());
    MedianEstimate estimate{median(values), std::nullopt};
    const int n = static_cast<int>(values.size());
    // The largest k for which fewer than k of n fair coins fall one way with at most half of what may be wrong.
    double below = 0, log_choose = 0;
    int k = 0;
    for (int i = 0; i < n; ++i) {
        below += std::exp(log_choose - n * std::log(2.0));
        if (below > (1 - level) / 2) break;
        k = i + 1;
        log_choose += std::log(n - i) - std::log(i + 1);
    }
    if (k > 0 && 2 * k <= n) estimate.interval = Interval{values[static_cast<std::size_t>(k - 1)], values[static_cast<std::size_t>(n - k)]};
    return estimate;
}

std::vector<double> holm_adjusted(const std::vector<double>& p_values) {
    std::vector<std::size_t> order(p_values.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return p_values[a] < p_values[b]; });
    std::vector<double> adjusted(p_values.size());
    double most = 0;
    for (std::size_t i = 0; i < order.size(); ++i) {
        most = std::max(most, std::min(1.0, static_cast<double>(order.size() - i) * p_values[order[i]]));
        adjusted[order[i]] = most;
    }
    return adjusted;
}

}  // namespace basefog::history_room
