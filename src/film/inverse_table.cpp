// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/inverse_table.h"

#include <algorithm>
#include <cmath>

namespace basefog::film {
namespace {

constexpr std::size_t kEntries = 8193;  // Chosen: steps of 0.0004 in density
constexpr double kMargin = 4.0;         // log10 H tabulated beyond the invertible range

}  // namespace

CurveTable::CurveTable(const LayerCurve& curve) {
    const double low = curve.exposure(Density(-1.0)).value(), high = curve.exposure(Density(1e3)).value();
    low_density_ = curve.at(LogExposure(low)).value();
    const double high_density = curve.at(LogExposure(high)).value();
    low_exposure_ = low - kMargin;
    exposure_.resize(kEntries);
    density_.resize(kEntries);
    const double steps = static_cast<double>(kEntries - 1);
    for (std::size_t i = 0; i < kEntries; ++i) {
        const double t = static_cast<double>(i) / steps;
        exposure_[i] = curve.exposure(Density(low_density_ + t * (high_density - low_density_))).value();
        density_[i] = curve.at(LogExposure(low_exposure_ + t * (high + kMargin - low_exposure_))).value();
    }
    density_scale_ = steps / std::max(high_density - low_density_, 1e-9);
    exposure_scale_ = steps / (high + kMargin - low_exposure_);
}

double CurveTable::look_up(const std::vector<double>& table, double at) {
    if (!(at > 0)) return table.front();
    const double last = static_cast<double>(table.size() - 1);
    if (at >= last) return table.back();
    const auto i = static_cast<std::size_t>(at);
    const double t = at - static_cast<double>(i);
    return table[i] + t * (table[i + 1] - table[i]);
}

}  // namespace basefog::film
