// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/balance.h"

#include "film/constants.h"
#include "film/light_sources.h"

#include <Eigen/Cholesky>
#include <Eigen/LU>
#include <algorithm>
#include <cmath>
#include <optional>

namespace basefog::film {
namespace {

using Vector4 = Eigen::Vector4d;  // speed red, tilt red, speed blue, tilt blue
using Matrix4 = Eigen::Matrix4d;

constexpr double kOwnLight = 5500, kTungsten = 3200;  // Kelvin: daylight and tungsten stocks' balances, common practice, no source
/// Rounds of asking the pictures again about the neutral found so far.
constexpr int kRounds = 3;
constexpr int kReweightings = 30;
/// A vote from near the toe rests on the curve's foot: this much more sigma, divided by its height. Chosen.
constexpr double kLowHeightStd = 0.03;
/// A bracket's own sigma, relative, beside its statistics: the shoulder's and toe's ends. Chosen.
constexpr double kBracketStd = 0.012;

struct Cast {
    Pair cast;
    double height, weight;
};
struct Tilt {
    Pair tilt;
    double weight;
};

/// Lowers the votes' weights for what a roll's subjects have in common: n votes are worth n / (1 + n together).
template <class Vote>
void share_subjects(std::vector<Vote>& votes, double together) {
    double total = 0;
    for (const Vote& v : votes) total += v.weight;
    for (Vote& v : votes) v.weight /= 1 + total * together;
}

double sigma_cast(const Cast& c, std::size_t axis) { return std::hypot(kCastStd[axis], kLowHeightStd / std::max(c.height, 0.1)); }

/// Weight of a vote under a heavy-tailed law with two numbers to a vote.
double tail_weight(double chi2) { return (kVoteTails + 2) / (kVoteTails + chi2); }

struct Normal {
    Matrix4 precision;
    Vector4 moment;
    void add(std::size_t axis, double speed_part, double tilt_part, double value, double sigma, double weight) {
        const auto s = static_cast<Eigen::Index>(2 * axis);
        const double w = weight / (sigma * sigma);
        precision(s, s) += w * speed_part * speed_part;
        precision(s, s + 1) += w * speed_part * tilt_part;
        precision(s + 1, s) += w * speed_part * tilt_part;
        precision(s + 1, s + 1) += w * tilt_part * tilt_part;
        moment(s) += w * speed_part * value;
        moment(s + 1) += w * tilt_part * value;
    }
};

void add_casts(Normal& normal, const std::vector<Cast>& casts, const Vector4& now) {
    for (const Cast& c : casts) {
        double chi2 = 0;
        for (std::size_t k = 0; k < 2; ++k) {
            const auto s = static_cast<Eigen::Index>(2 * k);
            const double residual = c.cast[k] - kCastBias[k] - now(s) - now(s + 1) * c.height;
            chi2 += residual * residual / (sigma_cast(c, k) * sigma_cast(c, k));
        }
        for (std::size_t k = 0; k < 2; ++k) normal.add(k, 1.0, c.height, c.cast[k] - kCastBias[k], sigma_cast(c, k), c.weight * tail_weight(chi2));
    }
}

void add_tilts(Normal& normal, const std::vector<Tilt>& tilts, const Vector4& now) {
    for (const Tilt& t : tilts) {
        double chi2 = 0;
        for (std::size_t k = 0; k < 2; ++k) {
            const double residual = t.tilt[k] - kTiltBias[k] - now(static_cast<Eigen::Index>(2 * k + 1));
            chi2 += residual * residual / (kTiltStd[k] * kTiltStd[k]);
        }
        for (std::size_t k = 0; k < 2; ++k) normal.add(k, 0.0, 1.0, t.tilt[k] - kTiltBias[k], kTiltStd[k], t.weight * tail_weight(chi2));
    }
}

void add_brackets(Normal& normal, const std::vector<Bracket>& brackets) {
    for (const Bracket& b : brackets) {
        const double step = b.difference[1];
        if (std::abs(step) < kLog10Of2 / 2) continue;
        for (std::size_t k = 0; k < 2; ++k) {
            const std::size_t layer = k == 0 ? 0 : 2;
            const double sigma = std::hypot(kBracketStd, std::hypot(b.std_error[layer], b.std_error[1]) / std::abs(step));
            normal.add(k, 0.0, 1.0, (b.difference[layer] - step) / step, sigma, 1.0 / std::sqrt(static_cast<double>(brackets.size())));
        }
    }
}

Matrix4 to_matrix(const std::array<std::array<double, 4>, 4>& c) {
    Matrix4 m;
    for (int i = 0; i < 4; ++i)
        for (int j = 0; j < 4; ++j) m(i, j) = c[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)];
    return m;
}

Neutral to_neutral(const Vector4& mean, const Matrix4& covariance) {
    Neutral n;
    n.speed = {mean(0), mean(2)};
    n.tilt = {mean(1), mean(3)};
    for (int i = 0; i < 4; ++i)
        for (int j = 0; j < 4; ++j) n.covariance[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)] = covariance(i, j);
    return n;
}

bool light_is_told(const RollFacts& facts) { return facts.stock_balance.has_value() && facts.light.has_value(); }

}  // namespace

Pair Neutral::std_at(double height) const {
    Pair out{};
    for (std::size_t k = 0; k < 2; ++k) {
        const std::size_t s = 2 * k;
        const double variance = covariance[s][s] + 2 * height * covariance[s][s + 1] + height * height * covariance[s + 1][s + 1];
        out[k] = std::sqrt(std::max(variance, 0.0));
    }
    return out;
}

Neutral assume_neutral(const RollFacts& facts, const std::array<std::array<double, 2>, 2>& tilt_covariance) {
    Vector4 mean = Vector4::Zero();
    Matrix4 covariance = Matrix4::Zero();
    const Rgb<LogExposure> axis = layer_offsets(Kelvin(kTungsten), Kelvin(kOwnLight), 0);
    if (light_is_told(facts)) {
        const Rgb<LogExposure> offset = layer_offsets(*facts.stock_balance, *facts.light, facts.filter_mired);
        mean(0) = offset.r.value(), mean(2) = offset.b.value();
    } else {
        mean(0) = kUntoldCentre * axis.r.value(), mean(2) = kUntoldCentre * axis.b.value();
        const double r = kUntoldStd * axis.r.value(), b = kUntoldStd * axis.b.value();
        covariance(0, 0) += r * r, covariance(2, 2) += b * b, covariance(0, 2) += r * b, covariance(2, 0) += r * b;
    }
    const double decades = std::isfinite(facts.years_past_expiry.value_or(0)) ? std::clamp(facts.years_past_expiry.value_or(0) / 10, 0.0, 5.0) : 0.0;
    for (std::size_t k = 0; k < 2; ++k) {
        const auto s = static_cast<Eigen::Index>(2 * k);
        const double own = light_is_told(facts) ? kToldStd[k] : std::hypot(kToldStd[k], kUntoldAcrossStd);
        const double aged = kAgedStdPerDecade[k] * decades;
        covariance(s, s) += own * own + aged * aged;
        for (std::size_t j = 0; j < 2; ++j) covariance(s + 1, static_cast<Eigen::Index>(2 * j + 1)) = tilt_covariance[k][j];
    }
    return to_neutral(mean, covariance);
}

std::string basis_of_assumed(const RollFacts& facts) {
    return light_is_told(facts) ? "the stock's balance and the light as told"
                                : "neither the stock's balance nor the light is told: daylight to tungsten left open";
}

Neutral fit_neutral(const Neutral& prior, const std::vector<LayerPicture>& pictures, const Scenes& scenes) {
    const Matrix4 prior_precision = to_matrix(prior.covariance).inverse();
    const Vector4 prior_mean(prior.speed[0], prior.tilt[0], prior.speed[1], prior.tilt[1]);
    std::vector<Tilt> tilts;
    for (std::size_t i = 0; i < pictures.size(); ++i)
        if (const auto tilt = vote_tilt(pictures[i])) tilts.push_back({*tilt, scenes.share[i]});
    share_subjects(tilts, kTiltTogether);
    Vector4 now = prior_mean;
    Matrix4 covariance = to_matrix(prior.covariance);
    std::vector<Cast> casts;
    for (int round = 0; round < kRounds; ++round) {
        casts.clear();
        const Neutral neutral = to_neutral(now, covariance);
        for (std::size_t i = 0; i < pictures.size(); ++i)
            if (const auto vote = vote_cast(pictures[i], neutral.at(1.0))) casts.push_back({vote->cast, vote->height, scenes.share[i]});
        share_subjects(casts, kCastTogether);
        for (int step = 0; step < kReweightings; ++step) {
            Normal normal{prior_precision, prior_precision * prior_mean};
            add_casts(normal, casts, now);
            add_tilts(normal, tilts, now);
            add_brackets(normal, scenes.brackets);
            covariance = normal.precision.inverse();
            now = covariance * normal.moment;
        }
    }
    Neutral found = to_neutral(now, covariance);
    found.n_votes = static_cast<int>(casts.size());
    found.n_brackets = static_cast<int>(scenes.brackets.size());
    return found;
}

}  // namespace basefog::film
