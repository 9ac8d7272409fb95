// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/losses.h"

#include "film/unmix.h"

#include <algorithm>
#include <cmath>

namespace basefog::film {
namespace {

/// Every other spot in each direction: 21,600 of a full frame, a share known to 0.3 points.
constexpr std::int64_t kThinning = 2;
/// Spots weaker than this many sigma are averaged with their neighbours, so that noise is not taken for exposure. Chosen.
constexpr double kWeak = 6;
/// Signal is sought at a neutral's proportions. How far a base may be wrong counts as noise.
double variance_at_base(const Measured<Density>& base, double noise) {
    const double u = std::isfinite(base.std_uncertainty.value()) ? base.std_uncertainty.value() : 0.0;
    return noise * noise + u * u;
}

bool usable(const FrameSamples& f, std::int64_t x, std::int64_t y) {
    if (!f.usable.empty() && f.usable(x, y) == 0) return false;
    const DensityRgbi& d = f.above_base(x, y);
    return std::isfinite(d.r) && std::isfinite(d.g) && std::isfinite(d.b);
}

Triple density_at(const FrameSamples& f, std::int64_t x, std::int64_t y) {
    const DensityRgbi& d = f.above_base(x, y);
    return {static_cast<double>(d.r), static_cast<double>(d.g), static_cast<double>(d.b)};
}

/// Mean over the usable spots of a square about (x, y).
Triple mean_about(const FrameSamples& f, std::int64_t x, std::int64_t y, std::int64_t reach) {
    Triple sum{};
    double n = 0;
    for (std::int64_t v = std::max<std::int64_t>(0, y - reach); v <= std::min(f.above_base.height() - 1, y + reach); ++v)
        for (std::int64_t u = std::max<std::int64_t>(0, x - reach); u <= std::min(f.above_base.width() - 1, x + reach); ++u) {
            if (!usable(f, u, v)) continue;
            const Triple d = density_at(f, u, v);
            for (std::size_t k = 0; k < 3; ++k) sum[k] += d[k];
            n += 1;
        }
    for (double& s : sum) s /= std::max(n, 1.0);
    return sum;
}

double normal_below(double t) { return 0.5 * std::erfc(-t / std::sqrt(2.0)); }

}  // namespace

LossMeter::LossMeter(const FilmModel& model, const Rgb<Measured<Density>>& base, const std::vector<GrainPoint>& grain, const FilmOptions& options)
    : model_(model),
      channel_from_dye_{},
      curves_(tabulate(model.curves)),
      noise_{NoiseCurve(grain, 0), NoiseCurve(grain, 1), NoiseCurve(grain, 2)},
      sigma_(options.shadow_sigma) {
    channel_from_dye_ = model.silver ? Matrix3{{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}} : inverse(model.dye_from_channel);
    // Best linear detector of a neutral: channels by slope over variance.
    double power = 0;
    for (int c = 0; c < 3; ++c) {
        const auto k = static_cast<std::size_t>(c);
        const double variance = variance_at_base(base[c], noise_[k].at(0));
        weight_[k] = model.curves[c].slope / variance;
        power += model.curves[c].slope * model.curves[c].slope / variance;
    }
    for (double& w : weight_) w /= std::sqrt(power);
}

double LossMeter::signal(const Triple& d) const { return weight_[0] * d[0] + weight_[1] * d[1] + weight_[2] * d[2]; }

SpotExposures LossMeter::spots(const FrameSamples& frame) const {
    SpotExposures out;
    for (std::int64_t y = 0; y < frame.above_base.height(); y += kThinning)
        for (std::int64_t x = 0; x < frame.above_base.width(); x += kThinning) {
            if (!usable(frame, x, y)) continue;
            Triple d = density_at(frame, x, y);
            if (signal(d) < kWeak) d = mean_about(frame, x, y, 1);
            if (signal(d) < kWeak / 3) d = mean_about(frame, x, y, 2);
            Triple h;
            for (std::size_t l = 0; l < 3; ++l) {
                const auto& row = model_.dye_from_channel[l];
                h[l] = curves_[l].exposure(row[0] * d[0] + row[1] * d[1] + row[2] * d[2]);
            }
            constexpr double kMostGain = 3;  // beyond, the model does not describe the spot
            out.push_back({h, std::clamp(signal(d) / std::max(expected_signal(h), 1e-9), 0.0, kMostGain)});
        }
    return out;
}

double LossMeter::expected_signal(const Triple& h) const {
    Triple dye, density{};
    for (std::size_t l = 0; l < 3; ++l) dye[l] = curves_[l].density(h[l]);
    for (std::size_t c = 0; c < 3; ++c)
        for (std::size_t l = 0; l < 3; ++l) density[c] += channel_from_dye_[c][l] * dye[l];
    return signal(density);
}

bool LossMeter::highlight_lost(const Triple& h) const {
    bool far_up = false;
    for (std::size_t l = 0; l < 3; ++l) {
        const LayerCurve& c = model_.curves[static_cast<int>(l)];
        far_up = far_up || h[l] >= (c.toe + (c.shoulder - c.toe) * HighlightRule::kFarUp).value();
    }
    if (!far_up) return false;
    double snr2 = 0;
    bool flat = true;
    for (std::size_t l = 0; l < 3; ++l) {
        const double d = curves_[l].density(h[l]), step = curves_[l].density(h[l] + HighlightRule::kStep) - d;
        const double sigma = noise_[l].at(d);
        snr2 += step * step / (2 * sigma * sigma);
        flat = flat && step < HighlightRule::kLeastSlope * HighlightRule::kStep * model_.curves[static_cast<int>(l)].slope;
    }
    return flat || snr2 < sigma_ * sigma_;
}

ExposureLimits LossMeter::limits() const {
    const auto grey = [&](double stops) {
        Triple h;
        for (int l = 0; l < 3; ++l) h[static_cast<std::size_t>(l)] = to_log_exposure(Stops(stops)).value() + model_.balance[l].value();
        return h;
    };
    const auto turn = [](auto&& beyond, double low, double high) {
        constexpr int kHalvings = 40;
        for (int i = 0; i < kHalvings; ++i) {
            const double middle = (low + high) / 2;
            (beyond(middle) ? high : low) = middle;
        }
        return Stops((low + high) / 2);
    };
    double toe = 0, shoulder = 0;
    for (int l = 0; l < 3; ++l) {
        toe += to_stops(model_.curves[l].toe - model_.balance[l]).value() / 3;
        shoulder += to_stops(model_.curves[l].shoulder - model_.balance[l]).value() / 3;
    }
    constexpr double kReach = 12;  // stops below the toe and above the shoulder: beyond any film
    return {turn([&](double s) { return expected_signal(grey(s)) >= sigma_; }, toe - kReach, shoulder),
            turn([&](double s) { return highlight_lost(grey(s)); }, toe, shoulder + kReach)};
}

WhatIf LossMeter::at(const SpotExposures& spots, Stops stops) const {
    WhatIf out{.stops = stops};
    if (spots.empty()) return out;
    const double shift = to_log_exposure(stops).value();
    double shadow = 0, highlight = 0;
    for (const auto& [h, gain] : spots) {
        const Triple shifted{h[0] + shift, h[1] + shift, h[2] + shift};
        shadow += normal_below(sigma_ - gain * expected_signal(shifted));
        highlight += highlight_lost(shifted) ? 1 : 0;
    }
    out.shadow_lost_percent = 100 * shadow / static_cast<double>(spots.size());
    out.highlight_lost_percent = 100 * highlight / static_cast<double>(spots.size());
    return out;
}

}  // namespace basefog::film
