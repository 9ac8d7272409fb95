// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/curves.h"

#include "film/unmix.h"

#include <algorithm>
#include <cmath>
#include <string>
#include <string_view>

namespace basefog::film {
namespace {

bool is_motion_picture_process(std::string_view process) { return process.find("ECN") != std::string_view::npos; }
bool is_stills_process(std::string_view process) { return process.find("C-41") != std::string_view::npos; }

struct Slopes {
    std::array<double, 3> slope;
    const char* basis;
    bool known;
};

Slopes slopes_for(const RollFacts& facts) {
    const bool own_motion = is_motion_picture_process(facts.own_process), own_stills = is_stills_process(facts.own_process);
    if (own_motion && is_motion_picture_process(facts.process)) return {kMotionOwnSlopes, "motion-picture stock in its own process", true};
    if (own_motion && is_stills_process(facts.process)) return {kMotionCrossSlopes, "motion-picture stock in stills chemistry", true};
    if (own_stills && is_stills_process(facts.process)) return {kStillsSlopes, "stills stock in its own process", true};
    return {kUnknownSlopes, "stock or process not known", false};
}

bool is_sound(const EarlierCurve& e) {
    constexpr double kLeast = 0.1, kMost = 2.0;  // density per log10 H; outside, it is no camera film's
    for (int i = 0; i < 3; ++i)
        if (!(e.slope[i].value > kLeast && e.slope[i].value < kMost && e.slope[i].std_uncertainty >= 0)) return false;
    return !e.toe_width || (*e.toe_width > 0.01 && *e.toe_width < 0.6);
}

/// What the stock was found to have before, loosened by what differs from roll to roll and bath to bath.
void use_earlier(CurvePrior& prior, const EarlierCurve& earlier) {
    if (!is_sound(earlier)) return;
    double common = 0;
    for (int i = 0; i < 3; ++i) {
        prior.curves[i].slope = earlier.slope[i].value;
        if (earlier.toe_width) prior.curves[i].toe_width = *earlier.toe_width;
        common += earlier.slope[i].std_uncertainty / earlier.slope[i].value / 3;
    }
    prior.common_std = std::hypot(common, kBathSlopeStd);
    prior.channel_std.fill(kBathRatioStd);
    prior.basis = "the stock's curve as found on " + std::to_string(earlier.rolls) + (earlier.rolls == 1 ? " earlier roll" : " earlier rolls");
}

}  // namespace

CurvePrior assume_curves(const RollFacts& facts, bool silver) {
    CurvePrior prior;
    const Slopes slopes = slopes_for(facts);
    for (int i = 0; i < 3; ++i) {
        const auto k = static_cast<std::size_t>(i);
        prior.curves[i] = LayerCurve{.slope = silver ? kSilverSlope : slopes.slope[k] * kBandFactor[k],
                                     .toe = LogExposure(kToe),
                                     .toe_width = kToeWidth,
                                     .shoulder = LogExposure(kToe + kLatitude),
                                     .shoulder_width = kShoulderWidth};
    }
    prior.common_std = silver || !slopes.known ? kSlopeStdUnknown : kSlopeStd;
    prior.basis = silver ? "typical slope of a silver negative" : std::string("typical slopes of ") + slopes.basis;
    if (facts.earlier_curve) use_earlier(prior, *facts.earlier_curve);
    return prior;
}

Rgb<LayerCurve> straightened(const Rgb<LayerCurve>& curves, const Mix& share, const std::array<double, 2>& tilt) {
    // A tilt beyond this is no crossover but a failed fit. Chosen: three times the prior's sigma.
    constexpr double kMost = 0.6;
    const std::array<double, 3> layer{1 + std::clamp(tilt[0], -kMost, kMost), 1.0, 1 + std::clamp(tilt[1], -kMost, kMost)};
    std::array<double, 3> log_change{};
    for (std::size_t c = 0; c < 3; ++c) log_change[c] = std::log(share[c][0] * layer[0] + share[c][1] * layer[1] + share[c][2] * layer[2]);
    const double mean = (log_change[0] + log_change[1] + log_change[2]) / 3;
    Rgb<LayerCurve> out = curves;
    for (int i = 0; i < 3; ++i) out[i].slope *= std::exp(log_change[static_cast<std::size_t>(i)] - mean);
    return out;
}

std::array<double, 2> tilt_of(const Rgb<LayerCurve>& actual, const Rgb<LayerCurve>& assumed, const Mix& share) {
    const Matrix3 layer_from_channel = inverse(share);
    std::array<double, 3> layer{};
    for (std::size_t l = 0; l < 3; ++l)
        for (int c = 0; c < 3; ++c) layer[l] += layer_from_channel[l][static_cast<std::size_t>(c)] * actual[c].slope / assumed[c].slope;
    return {layer[0] / layer[1] - 1, layer[2] / layer[1] - 1};
}

std::array<std::array<double, 2>, 2> tilt_covariance(const std::array<double, 3>& relative_std, const Mix& share) {
    const Matrix3 inv = inverse(share);
    std::array<std::array<double, 2>, 2> out{};
    for (std::size_t c = 0; c < 3; ++c) {
        const std::array<double, 2> part{inv[0][c] - inv[1][c], inv[2][c] - inv[1][c]};
        for (std::size_t i = 0; i < 2; ++i)
            for (std::size_t j = 0; j < 2; ++j) out[i][j] += part[i] * part[j] * relative_std[c] * relative_std[c];
    }
    return out;
}

}  // namespace basefog::film
