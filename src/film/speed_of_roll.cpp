// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/speed_of_roll.h"

#include <algorithm>
#include <cmath>

namespace basefog::film {
namespace {

/// Density above base that marks the speed point. Defined [ISO5800, from memory].
constexpr double kSpeedDensity = 0.15;
/// Exposure of a metered grey, H_grey = 10 / S lux seconds (from memory), over that of the speed point, H_M = sqrt 2 / S [ISO5800, from
/// memory]: log10.
const double kGreyAboveSpeedPoint = std::log10(10 / std::sqrt(2.0));
/// One sigma of that convention for one camera's meter and one photographer's way with it, log10 H. Chosen: a quarter of a stop.
constexpr double kMeterStd = 0.08;

}  // namespace

RollSpeed speed_of(const RollFacts& facts, const FilmModel& model, const RollScale& scale) {
    RollSpeed out;
    out.loss = {.value = to_stops(LogExposure(scale.loss)), .std_uncertainty = to_stops(LogExposure(scale.loss_std)), .n = scale.n, .flags = MeasureFlag::none};
    if (!scale.grey_height) return out;
    // Speed points of a neutral: green's and the slowest layer's, as ISO 5800 combines them.
    Rgb<double> point;
    for (int l = 0; l < 3; ++l) point[l] = (model.curves[l].exposure(Density(kSpeedDensity)) - model.balance[l]).value() - model.curves[l].toe.value();
    const double speed_point = model.silver ? point.g : 0.5 * (point.g + std::max({point.r, point.g, point.b}));
    out.effective_index = *facts.box_speed * std::pow(10, *scale.grey_height - speed_point - kGreyAboveSpeedPoint);
    out.effective_index_std = to_stops(LogExposure(std::hypot(scale.grey_height_std, kMeterStd)));
    return out;
}

}  // namespace basefog::film
