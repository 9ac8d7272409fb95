// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/film/types.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace basefog {
namespace {

/// Beyond these many widths outside the straight line a curve's slope is under 0.3 % of it: no step of exposure shows.
constexpr double kToeReach = 6.0, kShoulderReach = 6.0;
constexpr double kLeastWidth = 1e-6;  // a width of 0 is a sharp corner, not a division by zero

double softplus(double x, double width) {
    const double t = x / width;
    return t > 30 ? x : width * std::log1p(std::exp(t));
}
double logistic(double t) { return 1.0 / (1.0 + std::exp(-t)); }

/// A curve's numbers with widths that can be divided by.
struct Shape {
    double slope, toe, toe_width, shoulder, shoulder_width;
    explicit Shape(const LayerCurve& c)
        : slope(c.slope),
          toe(c.toe.value()),
          toe_width(std::max(c.toe_width, kLeastWidth)),
          shoulder(c.shoulder.value()),
          shoulder_width(std::max(c.shoulder_width, kLeastWidth)) {}
    [[nodiscard]] double at(double h) const { return slope * (softplus(h - toe, toe_width) - softplus(h - shoulder, shoulder_width)); }
    [[nodiscard]] double steepness(double h) const { return slope * (logistic((h - toe) / toe_width) - logistic((h - shoulder) / shoulder_width)); }
    [[nodiscard]] double lowest() const { return toe - kToeReach * toe_width; }
    [[nodiscard]] double highest() const { return std::max(shoulder + kShoulderReach * shoulder_width, lowest() + kLeastWidth); }
};

using Departure = std::array<double, LayerCurve::kNodes>;

bool departs(const Departure& d) {
    return std::any_of(d.begin(), d.end(), [](double v) { return v != 0; });
}

/// The departure at an exposure by the form.
double departure_at(const Departure& d, double form) {
    const double t = std::clamp((form - LayerCurve::kFirstNode) / LayerCurve::kNodeStep, 0.0, static_cast<double>(LayerCurve::kNodes - 1));
    const auto i = std::min(static_cast<std::size_t>(t), static_cast<std::size_t>(LayerCurve::kNodes - 2));
    return d[i] + (t - static_cast<double>(i)) * (d[i + 1] - d[i]);
}

/// The exposure by the form that a true one is read as: what departure_at adds, taken off.
double without_departure(const Departure& d, double h) {
    const auto node = [](std::size_t i) { return LayerCurve::kFirstNode + LayerCurve::kNodeStep * static_cast<double>(i); };
    const std::size_t last = LayerCurve::kNodes - 1;
    if (h <= node(0) + d[0]) return h - d[0];
    if (h >= node(last) + d[last]) return h - d[last];
    std::size_t i = 0;
    while (i + 1 < last && h >= node(i + 1) + d[i + 1]) ++i;
    const double width = LayerCurve::kNodeStep + d[i + 1] - d[i];
    return node(i) + LayerCurve::kNodeStep * (h - node(i) - d[i]) / std::max(width, kLeastWidth);
}

/// Clamped to where the form rises measurably.
double exposure_by_form(const Shape& shape, double d) {
    double low = shape.lowest(), high = shape.highest();
    if (!(d > shape.at(low))) return low;  // NaN too
    if (d >= shape.at(high)) return high;
    // Start where the curve would have it without a shoulder, then Newton kept inside a shrinking bracket.
    const double q = d / (shape.slope * shape.toe_width);
    double h = std::clamp(shape.toe + (q > 30 ? q * shape.toe_width : shape.toe_width * std::log(std::expm1(q))), low, high);
    for (int i = 0; i < 60; ++i) {
        const double error = shape.at(h) - d;
        if (std::abs(error) < 1e-12) break;
        (error > 0 ? high : low) = h;
        const double steep = shape.steepness(h);
        double next = steep > 0 ? h - error / steep : low;
        if (!(next > low && next < high)) next = 0.5 * (low + high);
        if (std::abs(next - h) < 1e-13) break;
        h = next;
    }
    return h;
}

}  // namespace

Density LayerCurve::at(LogExposure h) const {
    const Shape shape(*this);
    if (std::isnan(h.value())) return Density(0.0);
    const double held = std::clamp(h.value(), -1e3, 1e3);
    return Density(shape.at(departs(departure) ? without_departure(departure, held) : held));
}

LogExposure LayerCurve::exposure(Density above_fog) const {
    const double form = exposure_by_form(Shape(*this), above_fog.value());
    return LogExposure(form + departure_at(departure, form));
}

}  // namespace basefog
