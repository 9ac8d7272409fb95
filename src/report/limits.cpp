// SPDX-License-Identifier: GPL-3.0-or-later
#include "report/limits.h"

#include <algorithm>
#include <cmath>

namespace basefog::report {
namespace {

constexpr int kLayers = 3;  // a silver image counts as three equal layers, one for each channel it is seen in
constexpr double kLeastNoise = 1e-6;

double finite_or(double value, double otherwise) { return std::isfinite(value) ? value : otherwise; }

/// A spot's noise at a density, between the points of the grain table; at its ends the nearest point's.
double noise_at(const RollRecord& roll, int layer, double density) {
    const std::vector<GrainPoint>& grain = roll.film.grain;
    double noise = finite_or(roll.spot_noise[layer], 0), below = 0;
    for (std::size_t i = 0; i < grain.size(); ++i) {
        const double d = grain[i].density[layer], here = grain[i].spot_noise[layer];
        if (!std::isfinite(d) || !std::isfinite(here)) continue;
        if (d >= density && i > 0 && d > below) return std::max(kLeastNoise, noise + (here - noise) * std::clamp((density - below) / (d - below), 0.0, 1.0));
        noise = here;
        below = d;
    }
    return std::max(kLeastNoise, noise);
}

/// Signal of the layers together over the base's noise.
double above_base(const RollRecord& roll, double stops) {
    double sum = 0;
    for (int i = 0; i < kLayers; ++i) {
        const double ratio = std::max(0.0, density_at(roll.film.model, i, stops)) / std::max(kLeastNoise, finite_or(roll.spot_noise[i], 0));
        sum += ratio * ratio;
    }
    return std::sqrt(sum);
}

bool steps_vanish(const RollRecord& roll, double stops) {
    const FilmModel& model = roll.film.model;
    double sum = 0;
    bool flat = true;
    for (int i = 0; i < kLayers; ++i) {
        const double d = density_at(model, i, stops), step = density_at(model, i, stops + HighlightRule::kStep / kLog10Of2) - d;
        const double noise = noise_at(roll, i, d);
        sum += step * step / (2 * noise * noise);
        flat = flat && step < HighlightRule::kLeastSlope * HighlightRule::kStep * finite_or(model.curves[i].slope, 0);
    }
    return flat || sum < kSigma * kSigma;
}

/// Where a condition that is false at `low` and true at `high` turns, by halving.
template <class Condition>
double turning_point(Condition condition, double low, double high) {
    for (int i = 0; i < 50; ++i) {
        const double middle = (low + high) / 2;
        (condition(middle) ? high : low) = middle;
    }
    return (low + high) / 2;
}

}  // namespace

double density_at(const FilmModel& model, int layer, double stops) {
    const double d = model.curves[layer].at(to_log_exposure(Stops(stops)) + model.balance[layer]).value();
    return std::isfinite(d) ? d : 0;
}

Limits limits_of(const RollRecord& roll) {
    const FilmModel& model = roll.film.model;
    double toe = 0, shoulder = 0;
    for (int i = 0; i < kLayers; ++i) {
        toe += to_stops(model.curves[i].toe - model.balance[i]).value() / kLayers;
        shoulder += to_stops(model.curves[i].shoulder - model.balance[i]).value() / kLayers;
    }
    if (!(toe > kLowestStop && toe < shoulder && shoulder < kHighestStop)) return {};
    return {turning_point([&](double s) { return above_base(roll, s) >= kSigma; }, kLowestStop, shoulder),
            turning_point([&](double s) { return steps_vanish(roll, s); }, toe + HighlightRule::kFarUp * (shoulder - toe), kHighestStop)};
}

}  // namespace basefog::report
