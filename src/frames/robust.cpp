// SPDX-License-Identifier: GPL-3.0-or-later
#include "robust.h"

#include <algorithm>
#include <cmath>
#include <numeric>

namespace basefog::frames {

double at_share(std::vector<double> values, double share) {
    if (values.empty()) return 0;
    const auto n = static_cast<double>(values.size());
    const auto k = values.begin() + static_cast<std::ptrdiff_t>(std::clamp(share * n, 0.0, n - 1));
    std::nth_element(values.begin(), k, values.end());
    return *k;
}

double median(std::vector<double> values) { return at_share(std::move(values), 0.5); }

double spread(const std::vector<double>& values, double centre) {
    std::vector<double> off(values.size());
    std::transform(values.begin(), values.end(), off.begin(), [&](double v) { return std::abs(v - centre); });
    return 1.4826 * median(std::move(off));
}

Line fit_line(const std::vector<double>& x, const std::vector<double>& y, Line start, double scale) {
    Line line = start;
    for (int pass = 0; pass < 12; ++pass) {
        double w = 0, wx = 0, wy = 0, wxx = 0, wxy = 0;
        for (std::size_t i = 0; i < x.size(); ++i) {
            const double r = (y[i] - line.at(x[i])) / scale, k = 1 / (1 + r * r);
            w += k;
            wx += k * x[i];
            wy += k * y[i];
            wxx += k * x[i] * x[i];
            wxy += k * x[i] * y[i];
        }
        const double det = w * wxx - wx * wx;
        if (w <= 0 || det <= 1e-12 * w * w) break;
        line.slope = (w * wxy - wx * wy) / det;
        line.at0 = (wy - line.slope * wx) / w;
    }
    std::vector<double> off(x.size());
    for (std::size_t i = 0; i < x.size(); ++i) off[i] = std::abs(y[i] - line.at(x[i]));
    line.spread = 1.4826 * median(off);
    const double reach = std::max(3 * line.spread, scale);
    line.followed =
        x.empty() ? 0 : static_cast<double>(std::count_if(off.begin(), off.end(), [&](double r) { return r < reach; })) / static_cast<double>(x.size());
    return line;
}

Mode crowd(const std::vector<double>& values, const std::vector<double>& weights, double half) {
    std::vector<std::size_t> order(values.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return values[a] < values[b]; });
    double total = 0, inside = 0, most = 0;
    std::size_t first = 0, best_first = 0, best_last = 0;
    for (const double w : weights) total += w;
    for (std::size_t last = 0; last < order.size(); ++last) {
        inside += weights[order[last]];
        while (values[order[last]] - values[order[first]] > 2 * half) inside -= weights[order[first++]];
        if (inside > most) {
            most = inside;
            best_first = first;
            best_last = last;
        }
    }
    Mode mode;
    if (most <= 0 || total <= 0) return mode;
    double sum = 0, square = 0;
    for (std::size_t i = best_first; i <= best_last; ++i) sum += weights[order[i]] * values[order[i]];
    mode.at = sum / most;
    for (std::size_t i = best_first; i <= best_last; ++i) square += weights[order[i]] * (values[order[i]] - mode.at) * (values[order[i]] - mode.at);
    mode.spread = std::sqrt(square / most);
    mode.share = most / total;
    mode.n = static_cast<int>(best_last - best_first + 1);
    return mode;
}

}  // namespace basefog::frames
