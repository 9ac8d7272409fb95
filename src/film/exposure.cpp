// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/exposure.h"

#include "film/constants.h"

#include <algorithm>
#include <cmath>
#include <tuple>

namespace basefog::film {
namespace {

/// Relative to a share, for what curve and noise may be wrong. Chosen.
constexpr double kShareStd = 0.15;
constexpr double kLeastShareStd = 0.2;  // percent

double quantile(std::vector<double>& v, double q) {
    const auto k = static_cast<std::ptrdiff_t>(q * static_cast<double>(v.size() - 1));
    std::nth_element(v.begin(), v.begin() + k, v.end());
    return v[static_cast<std::size_t>(k)];
}

double median(std::vector<double> v) { return quantile(v, 0.5); }

/// How much of a frame's distance from the roll's level is its exposure rather than its subject; the rest stays visible.
double exposure_share() { return kPhotographerStops * kPhotographerStops / (kPhotographerStops * kPhotographerStops + kSceneStops * kSceneStops); }

Measured<double> share(double percent, std::int64_t n) { return {.value = percent, .std_uncertainty = std::max(kLeastShareStd, kShareStd * percent), .n = n}; }

std::vector<WhatIf> all_what_ifs(const LossMeter& meter, const SpotExposures& spots, const FilmOptions& options) {
    std::vector<WhatIf> out;
    const int steps = static_cast<int>(std::lround(options.what_if_range.value() / options.what_if_step.value()));
    for (int i = -steps; i <= steps; ++i) out.push_back(meter.at(spots, options.what_if_step * static_cast<double>(i)));
    return out;
}

/// The middle of the levels of the frames that show what this one shows.
double scene_level(const std::vector<FoundLevel>& levels, const FoundLevel& of) {
    if (!of.scene) return of.level;
    std::vector<double> same;
    for (const FoundLevel& l : levels)
        if (l.scene == of.scene) same.push_back(l.level);
    return median(std::move(same));
}

}  // namespace

Level level_of(const Picture& picture, const FilmModel& model, const std::array<CurveTable, 3>& curves) {
    const LayerPicture layers = to_layers(picture, model.dye_from_channel, curves);
    std::vector<double> light;
    for (std::size_t i = 0; i < layers.exposure.size(); ++i) {
        if (!layers.usable[i]) continue;
        double sum = 0;
        for (int l = 0; l < 3; ++l)
            sum += kLayerWeights[static_cast<std::size_t>(l)] * std::pow(10, layers.exposure[i][static_cast<std::size_t>(l)] - model.balance[l].value());
        light.push_back(std::log10(sum));
    }
    const double upper = quantile(light, kUpperPoint), lower = quantile(light, kLowerPoint);
    const double end = (model.curves.g.shoulder - model.balance.g).value() - kShoulderMargin;
    if (upper > end) return {lower - kTypicalLower, true};
    return {kUpperShare * upper + (1 - kUpperShare) * lower - kTypicalLevel, false};
}

std::vector<FrameExposure> place_frames(const RollSamples& roll, const std::vector<FoundLevel>& levels, double slope_std, double toe, const LossMeter& meter,
                                        const FilmOptions& options, const ForEach& for_each) {
    std::vector<FrameExposure> out(roll.frames.size());
    std::vector<double> values;
    for (const FoundLevel& l : levels) values.push_back(l.level);
    const double roll_level = values.empty() ? 0.0 : median(values);
    for (FrameExposure& f : out) {
        f.render_level = LogExposure(roll_level);
        f.offset = {.value = to_stops(LogExposure(roll_level)),
                    .std_uncertainty = Stops(std::hypot(kPhotographerStops, kSceneStops)),
                    .n = 0,
                    .flags = MeasureFlag::assumed};
        f.reading_std = f.offset.std_uncertainty;
    }
    for_each.all(levels.size(), [&](std::size_t i) {
        const FoundLevel& l = levels[i];
        FrameExposure& f = out[l.frame];
        f.reading_std = to_stops(LogExposure(l.reading_std));
        f.offset = {.value = to_stops(LogExposure(l.level)),
                    .std_uncertainty = to_stops(LogExposure(std::hypot(std::hypot(l.reading_std, l.own_std), slope_std * (l.level - toe)))),
                    .n = l.n,
                    .flags = MeasureFlag::none};
        const double scene = scene_level(levels, l);
        f.render_level = LogExposure(roll_level + exposure_share() * (scene - roll_level) + (l.level - scene));
        const SpotExposures spots = meter.spots(roll.frames[l.frame]);
        const WhatIf now = meter.at(spots, Stops(0));
        f.shadow_lost_percent = share(now.shadow_lost_percent, static_cast<std::int64_t>(spots.size()));
        f.highlight_lost_percent = share(now.highlight_lost_percent, static_cast<std::int64_t>(spots.size()));
        f.what_if = all_what_ifs(meter, spots, options);
        std::tie(f.darkest, f.brightest) = meter.range(spots);
    });
    return out;
}

}  // namespace basefog::film
