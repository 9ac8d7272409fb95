// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/losses.h"

#include "film/unmix.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>
#include <utility>

namespace basefog::film {
namespace {

/// Every other spot in each direction: 21,600 of a full frame, a share known to 0.3 points.
constexpr std::int64_t kThinning = 2;
/// Of spots weaker than this many sigma it is asked what their surroundings make likely, so that noise is not taken for exposure, nor a fine dark
/// detail for its surroundings. Chosen.
constexpr double kWeak = 6;
/// Variance of density within a spot over that of it and its neighbours. Detail has about the same variance in each octave of size [Field1987]; on 14
/// public test pictures (docs/stages/film.md) the ratio was then 0.8, and 0.8 on average, down to a quarter of a spot, finer than which lens and film
/// pass little. Safe range 0.5 to 1.2.
constexpr double kWithin = 0.8;
/// A signal below this many sigma says nothing of how far below; such spots are taken to lie these log10 H lower. Chosen: thirds of a tail that falls
/// to a tenth in two stops.
constexpr double kLeastSignal = 0.5;
constexpr std::array<double, 3> kBelowLeast{0.05, 0.18, 0.47};
constexpr double kMostSpread = 0.4;  // log10 H; beyond, it is an edge
constexpr double kMostGain = 3;      // beyond, the model does not describe the spot
constexpr double kNever = 8;         // sigmas above: less than 1e-15 of such spots are lost
/// Signal is sought at a neutral's proportions. How far a base may be wrong counts as noise.
double variance_at_base(const Measured<Density>& base, double noise) {
    const double u = std::isfinite(base.std_uncertainty.value()) ? base.std_uncertainty.value() : 0.0;
    return noise * noise + u * u;
}

Triple density_at(const FrameSamples& f, std::int64_t x, std::int64_t y) {
    const DensityRgbi& d = f.above_base(x, y);
    return {static_cast<double>(d.r), static_cast<double>(d.g), static_cast<double>(d.b)};
}

/// A frame's signal and, about any spot, its mean and how much of its variance is the picture's rather than noise's.
class SignalMap {
public:
    template <class Signal>
    SignalMap(const FrameSamples& frame, Signal signal) : frame_(frame), signal_(frame.above_base.width(), frame.above_base.height()) {
        for (std::int64_t y = 0; y < signal_.height(); ++y)
            for (std::int64_t x = 0; x < signal_.width(); ++x) signal_(x, y) = is_usable(frame, x, y) ? signal(density_at(frame, x, y)) : 0;
    }
    [[nodiscard]] double at(std::int64_t x, std::int64_t y) const { return signal_(x, y); }
    struct Local {
        double mean = 0, variance = 0;  ///< of the signal without its noise, whose variance is 1
        Triple density{};
    };
    [[nodiscard]] Local about(std::int64_t x, std::int64_t y) const {
        constexpr std::int64_t kReach = 2;  // 5 x 5 spots. Chosen: half a millimetre; more takes in other parts of the picture
        Local out;
        double n = 0, squares = 0;
        for (std::int64_t v = std::max<std::int64_t>(0, y - kReach); v <= std::min(signal_.height() - 1, y + kReach); ++v)
            for (std::int64_t u = std::max<std::int64_t>(0, x - kReach); u <= std::min(signal_.width() - 1, x + kReach); ++u) {
                if (!is_usable(frame_, u, v)) continue;
                const double s = signal_(u, v);
                const Triple d = density_at(frame_, u, v);
                for (std::size_t k = 0; k < 3; ++k) out.density[k] += d[k];
                out.mean += s, squares += s * s, n += 1;
            }
        for (double& d : out.density) d /= std::max(n, 1.0);
        out.mean /= std::max(n, 1.0);
        if (n > 1) out.variance = std::max((squares - n * out.mean * out.mean) / (n - 1) - 1, 0.0);
        return out;
    }

private:
    const FrameSamples& frame_;
    Image<double> signal_;
};

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

Triple LossMeter::exposures(const Triple& d) const {
    Triple h;
    for (std::size_t l = 0; l < 3; ++l) {
        const auto& row = model_.dye_from_channel[l];
        h[l] = curves_[l].exposure(row[0] * d[0] + row[1] * d[1] + row[2] * d[2]);
    }
    return h;
}

Spot LossMeter::spot(const Triple& density, double signal, double share) const {
    const Triple h = exposures(density);
    return {h, std::clamp(signal / std::max(expected_signal(h), 1e-9), 0.0, kMostGain), share};
}

Spot LossMeter::strong_spot(const FrameSamples& frame, std::int64_t x, std::int64_t y, double measured) const {
    Triple sum{}, squares{}, d = density_at(frame, x, y);
    double n = 0;
    for (std::int64_t v = std::max<std::int64_t>(0, y - 1); v <= std::min(frame.above_base.height() - 1, y + 1); ++v)
        for (std::int64_t u = std::max<std::int64_t>(0, x - 1); u <= std::min(frame.above_base.width() - 1, x + 1); ++u) {
            if (!is_usable(frame, u, v)) continue;
            const Triple at = density_at(frame, u, v);
            for (std::size_t c = 0; c < 3; ++c) sum[c] += at[c], squares[c] += at[c] * at[c];
            n += 1;
        }
    double spread = 0;
    for (std::size_t c = 0; c < 3 && n > 1; ++c) {
        const double noise = noise_[c].at(d[c]), variance = kWithin * std::max((squares[c] - sum[c] * sum[c] / n) / (n - 1) - noise * noise, 0.0);
        d[c] += 0.5 * std::numbers::ln10 * variance;  // the mean density of an area whose light is averaged, to second order
        spread += std::sqrt(variance) / model_.curves[static_cast<int>(c)].slope / 3;
    }
    Spot out = spot(d, measured, 1.0);
    out.spread = std::min(spread, kMostSpread);
    out.gain = std::clamp(measured / std::max(area_signal(out.exposure, out.spread), 1e-9), 0.0, kMostGain);
    return out;
}

void LossMeter::add_weak(SpotExposures& out, const Triple& around, double mean, double variance, double measured) const {
    // The spot's true signal: normal about its surroundings, told by a measurement with a sigma of 1. Three points stand for it.
    const double kept = variance / (1 + variance), centre = mean + kept * (measured - mean), reach = std::sqrt(3 * kept);
    Triple direction = around;
    if (this->signal(direction) < 1)  // hardly any density: a neutral's proportions
        for (int c = 0; c < 3; ++c) direction[static_cast<std::size_t>(c)] = model_.curves[c].slope;
    const double unit = this->signal(direction);
    const auto add = [&](double s, double share, double below) {
        Triple d = direction;
        for (double& v : d) v *= s / unit;
        Spot one = spot(d, s, share);
        for (double& h : one.exposure) h -= below;
        out.push_back(one);
    };
    for (const auto& [s, share] : {std::pair{centre - reach, 1.0 / 6}, {centre, 2.0 / 3}, {centre + reach, 1.0 / 6}}) {
        if (s >= kLeastSignal) {
            add(s, share, 0);
            continue;
        }
        // Too dark to say how dark: as photographs' shadows usually go on.
        for (const double below : kBelowLeast) add(kLeastSignal, share / static_cast<double>(kBelowLeast.size()), below);
    }
}

SpotExposures LossMeter::spots(const FrameSamples& frame) const {
    SpotExposures out;
    const SignalMap map(frame, [this](const Triple& d) { return signal(d); });
    for (std::int64_t y = 0; y < frame.above_base.height(); y += kThinning)
        for (std::int64_t x = 0; x < frame.above_base.width(); x += kThinning) {
            if (!is_usable(frame, x, y)) continue;
            const double s = map.at(x, y);
            if (s >= kWeak) {
                out.push_back(strong_spot(frame, x, y, s));
                continue;
            }
            const SignalMap::Local local = map.about(x, y);
            add_weak(out, local.density, local.mean, local.variance, s);
        }
    return out;
}

Triple LossMeter::channel_density(const Triple& h) const {
    Triple dye, density{};
    for (std::size_t l = 0; l < 3; ++l) dye[l] = curves_[l].density(h[l]);
    for (std::size_t c = 0; c < 3; ++c)
        for (std::size_t l = 0; l < 3; ++l) density[c] += channel_from_dye_[c][l] * dye[l];
    return density;
}

double LossMeter::least_signal(const Triple& h, double spread) const {
    const double down = std::sqrt(3.0) * spread;
    return expected_signal({h[0] - down, h[1] - down, h[2] - down});
}

double LossMeter::area_signal(const Triple& h, double spread) const {
    if (spread <= 0) return expected_signal(h);
    Triple light{};
    for (const auto& [off, share] : {std::pair{-std::sqrt(3.0), 1.0 / 6}, {0.0, 2.0 / 3}, {std::sqrt(3.0), 1.0 / 6}}) {
        const Triple d = channel_density({h[0] + off * spread, h[1] + off * spread, h[2] + off * spread});
        for (std::size_t c = 0; c < 3; ++c) light[c] += share * std::exp(-std::numbers::ln10 * d[c]);
    }
    return signal({-std::log(light[0]) / std::numbers::ln10, -std::log(light[1]) / std::numbers::ln10, -std::log(light[2]) / std::numbers::ln10});
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

std::pair<LogExposure, LogExposure> LossMeter::range(const SpotExposures& spots) const {
    if (spots.empty()) return {};
    std::vector<std::pair<double, double>> by_exposure;  // and share
    double total = 0;
    for (const Spot& s : spots) {
        const double g = s.exposure[1] - model_.balance.g.value();
        by_exposure.emplace_back(g, s.share);
        total += s.share;
    }
    std::sort(by_exposure.begin(), by_exposure.end());
    constexpr double kTail = 0.02;
    double below = 0, low = by_exposure.front().first, high = by_exposure.back().first;
    bool low_found = false;
    for (const auto& [h, share] : by_exposure) {
        below += share;
        if (!low_found && below >= kTail * total) low = h, low_found = true;
        if (below >= (1 - kTail) * total) {
            high = h;
            break;
        }
    }
    return {LogExposure(low), LogExposure(high)};
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
    double shadow = 0, highlight = 0, total = 0;
    for (const auto& [h, gain, share, spread] : spots) {
        const Triple shifted{h[0] + shift, h[1] + shift, h[2] + shift};
        if (gain * least_signal(shifted, spread) < sigma_ + kNever) shadow += share * normal_below(sigma_ - gain * area_signal(shifted, spread));
        highlight += highlight_lost(shifted) ? share : 0;
        total += share;
    }
    out.shadow_lost_percent = 100 * shadow / total;
    out.highlight_lost_percent = 100 * highlight / total;
    return out;
}

}  // namespace basefog::film
