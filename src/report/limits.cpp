// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/limits.h"

#include <algorithm>
#include <cmath>

namespace basefog::report {

double density_at(const FilmModel& model, int layer, double stops) {
    const double d = model.curves[layer].at(to_log_exposure(Stops(stops)) + model.balance[layer]).value();
    return std::isfinite(d) ? d : 0;
}

Limits limits_of(const RollRecord& roll) {
    const double shadow = roll.film.limits.shadow.value(), highlight = roll.film.limits.highlight.value();
    if (!(shadow < highlight)) return {};
    return {std::clamp(shadow, kLowestStop, kHighestStop), std::clamp(highlight, kLowestStop, kHighestStop)};
}

}  // namespace basefog::report
