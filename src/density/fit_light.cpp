// SPDX-License-Identifier: GPL-3.0-or-later
#include "density/fit_light.h"

#include "density/constants.h"

#include <Eigen/Cholesky>
#include <algorithm>
#include <cmath>

namespace basefog::density {

namespace {

constexpr int kTerms = LightField::kTerms;
/// Weight of dark residuals while the first guess is pushed up to the bright envelope.
constexpr double kFirstDarkWeight = 0.03;
constexpr int kFirstRounds = 6;
constexpr int kRounds = 14;
/// Independent regions a smooth misfit of the field averages over on a sheet. Chosen: a 4 x 3 patchwork.
constexpr double kMisfitRegions = 12;
/// Standard deviation of the constant's prior, ln light: says nothing, but keeps the system solvable.
constexpr double kLevelPriorStd = 10;

struct Sample {
    Terms terms;
    int strip = -1;  ///< -1: bare light
    Channels y{};
    Channels sigma{};
};

struct System {
    std::vector<Sample> samples;
    int strips = 0;
    int channel_count = 3;
};

struct Solution {
    std::array<Eigen::VectorXd, 4> x;
    std::array<Eigen::MatrixXd, 4> covariance;
    std::vector<double> weight;
    Channels scale{1, 1, 1, 1};
};

Eigen::VectorXd design(const Sample& s, int strips) {
    Eigen::VectorXd row = Eigen::VectorXd::Zero(kTerms + strips);
    row.head<kTerms>() = s.terms;
    if (s.strip >= 0) row[kTerms + s.strip] = 1;
    return row;
}

Eigen::VectorXd prior_precision(int strips) {
    Eigen::VectorXd p = Eigen::VectorXd::Constant(kTerms + strips, 1 / (kLevelPriorStd * kLevelPriorStd));
    p.segment<2>(1).setConstant(1 / (kLinearPriorStd * kLinearPriorStd));
    p.segment<3>(3).setConstant(1 / (kQuadraticPriorStd * kQuadraticPriorStd));
    return p;
}

void solve(const System& system, Solution& solution) {
    const int size = kTerms + system.strips;
    for (int c = 0; c < system.channel_count; ++c) {
        Eigen::MatrixXd normal = prior_precision(system.strips).asDiagonal();
        Eigen::VectorXd right = Eigen::VectorXd::Zero(size);
        for (std::size_t i = 0; i < system.samples.size(); ++i) {
            const Sample& s = system.samples[i];
            const double sigma = s.sigma[c] * solution.scale[c];
            const double w = solution.weight[i] / (sigma * sigma);
            if (w <= 0) continue;
            const Eigen::VectorXd row = design(s, system.strips);
            normal.noalias() += w * row * row.transpose();
            right.noalias() += w * s.y[c] * row;
        }
        const Eigen::LDLT<Eigen::MatrixXd> factor(normal);
        solution.x[c] = factor.solve(right);
        solution.covariance[c] = factor.solve(Eigen::MatrixXd::Identity(size, size));
    }
}

double residual(const System& system, const Solution& solution, std::size_t i, int c) {
    const Sample& s = system.samples[i];
    double fit = s.terms.dot(solution.x[c].head<kTerms>());
    if (s.strip >= 0) fit += solution.x[c][kTerms + s.strip];
    return (s.y[c] - fit) / s.sigma[c];
}

/// Contamination only darkens, so the scatter is read off the bright side alone.
Channels bright_side_scale(const System& system, const Solution& solution) {
    Channels scale{1, 1, 1, 1};
    for (int c = 0; c < system.channel_count; ++c) {
        std::vector<double> bright;
        for (std::size_t i = 0; i < system.samples.size(); ++i) {
            const double r = residual(system, solution, i, c);
            if (r > 0) bright.push_back(r);
        }
        scale[c] = std::max(1.0, quantile(bright, 0.683));
    }
    return scale;
}

/// 1 for what fits, falling to 0 at the cut on the dark side, bounded influence on the bright side.
double weight_of(double t) {
    constexpr double kKnee = 1.5, kBrightKnee = 2.5;
    if (t <= -kCoveredCut) return 0;
    if (t < -kKnee) {
        const double k = (-t - kKnee) / (kCoveredCut - kKnee);
        return (1 - k * k) * (1 - k * k);
    }
    return t > kBrightKnee ? kBrightKnee / t : 1;
}

Solution robust_fit(const System& system) {
    Solution solution;
    solution.weight.assign(system.samples.size(), 1.0);
    solve(system, solution);
    for (int round = 0; round < kRounds; ++round) {
        const bool first = round < kFirstRounds;
        if (!first) solution.scale = bright_side_scale(system, solution);
        for (std::size_t i = 0; i < system.samples.size(); ++i) {
            double lowest = 1e9, highest = -1e9;
            for (int c = 0; c < system.channel_count; ++c) {
                const double t = residual(system, solution, i, c) / solution.scale[c];
                lowest = std::min(lowest, t);
                highest = std::max(highest, t);
            }
            solution.weight[i] = first ? (lowest < 0 ? kFirstDarkWeight : 1.0) : std::min(weight_of(lowest), weight_of(highest));
        }
        solve(system, solution);
    }
    return solution;
}

void add_bare(System& system, const LightEvidence& evidence) {
    const bool any_unclipped = std::any_of(evidence.bare.begin(), evidence.bare.end(), [](const LightCell& c) { return !c.clipped; });
    for (const LightCell& cell : evidence.bare) {
        if (cell.clipped && any_unclipped) continue;  // a clipped level is only a lower bound
        Sample s{terms_at(cell.u, cell.v), -1, cell.ln_light, {}};
        for (int c = 0; c < 4; ++c) s.sigma[c] = std::hypot(1.2533 * evidence.pixel_noise[c] / std::sqrt(cell.n), kFieldFloor);
        system.samples.push_back(s);
    }
}

void add_film(System& system, const LightEvidence& evidence) {
    system.strips = static_cast<int>(evidence.clear.size());
    for (int strip = 0; strip < system.strips; ++strip) {
        for (const LightCell& cell : evidence.clear[static_cast<std::size_t>(strip)]) {
            Sample s{terms_at(cell.u, cell.v), strip, cell.ln_light, {}};
            s.sigma.fill(kBaseEvenness);
            system.samples.push_back(s);
        }
    }
}

/// Drops the darkest share of the bare cells and fits once more.
void trim_dark(System& system, Solution& solution, double share) {
    std::vector<double> mean_residual;
    for (std::size_t i = 0; i < system.samples.size(); ++i) {
        double sum = 0;
        for (int c = 0; c < system.channel_count; ++c) sum += residual(system, solution, i, c);
        mean_residual.push_back(sum);
    }
    std::vector<double> sorted = mean_residual;
    const double cut = quantile(sorted, share);
    for (std::size_t i = 0; i < system.samples.size(); ++i) {
        if (mean_residual[i] < cut) solution.weight[i] = 0;
    }
    solve(system, solution);
}

double loosest(const Solution& solution, const System& system, const LightEvidence& evidence) {
    double worst = 0;
    for (const auto& strip : evidence.clear) {
        for (const LightCell& cell : strip) {
            const Terms t = terms_at(cell.u, cell.v);
            for (int c = 0; c < system.channel_count; ++c) {
                worst = std::max(worst, std::sqrt(t.dot(solution.covariance[c].topLeftCorner<kTerms, kTerms>() * t)));
            }
        }
    }
    return worst;
}

FittedLight read_off(const System& system, const Solution& solution) {
    FittedLight fit;
    double sum = 0, weights = 0;
    for (std::size_t i = 0; i < system.samples.size(); ++i) {
        if (system.samples[i].strip >= 0) continue;
        fit.n += solution.weight[i] > 0.5;
        weights += solution.weight[i];
        const double r = residual(system, solution, i, 1) * system.samples[i].sigma[1];
        sum += solution.weight[i] * r * r;
    }
    fit.residual_std = weights > 0 ? std::sqrt(sum / weights) : 0;
    for (int c = 0; c < system.channel_count; ++c) {
        fit.coefficient[c] = solution.x[c].head<kTerms>();
        fit.covariance[c] = solution.covariance[c].topLeftCorner<kTerms, kTerms>();
        fit.shared_std[c] = std::hypot(kFieldFloor, fit.residual_std) / std::sqrt(kMisfitRegions);
    }
    return fit;
}

/// Without bare light the clearest strip's film stands for it: its level becomes the field's.
void refer_to_clearest(const System& system, const Solution& solution, FittedLight& fit) {
    double best = -1e9;
    for (int strip = 0; strip < system.strips; ++strip) {
        const bool any = std::any_of(system.samples.begin(), system.samples.end(), [&](const Sample& s) { return s.strip == strip; });
        double level = 0;
        for (int c = 0; c < 3; ++c) level += solution.x[c][kTerms + strip];
        if (any && level > best) {
            best = level;
            fit.reference_strip = strip;
        }
    }
    if (fit.reference_strip < 0) return;
    for (int c = 0; c < system.channel_count; ++c) {
        fit.coefficient[c][0] += solution.x[c][kTerms + fit.reference_strip];
        // Level and offset are fixed only together; the shape terms keep their own uncertainty.
        fit.covariance[c].row(0).setZero();
        fit.covariance[c].col(0).setZero();
    }
    for (std::size_t i = 0; i < system.samples.size(); ++i) fit.n += solution.weight[i] > 0.5;
}

}  // namespace

Terms terms_at(double u, double v) {
    Terms t;
    t << 1, u, v, u * u, u * v, v * v;
    return t;
}

double FittedLight::std_at(int channel, const Terms& mean_terms) const {
    const double variance = mean_terms.dot(covariance[channel] * mean_terms);
    return std::hypot(std::sqrt(std::max(0.0, variance)), shared_std[channel]);
}

FittedLight fit_light(const LightEvidence& evidence) {
    System system;
    system.channel_count = evidence.has_infrared ? 4 : 3;
    add_bare(system, evidence);
    const bool bare = !system.samples.empty();
    Solution solution;
    bool shaped = !bare;
    if (bare) {
        solution = robust_fit(system);
        if (evidence.trim > 0) trim_dark(system, solution, evidence.trim);
        shaped = loosest(solution, system, evidence) > kShapeLoose;
    }
    if (shaped) {
        add_film(system, evidence);
        solution = robust_fit(system);
    }
    FittedLight fit = read_off(system, solution);
    fit.from_bare_light = bare;
    fit.shaped_by_film = shaped && bare;
    fit.clipped = std::any_of(evidence.bare.begin(), evidence.bare.end(), [](const LightCell& c) { return c.clipped; });
    if (!bare) refer_to_clearest(system, solution, fit);
    return fit;
}

FittedLight known_light() {
    /// Lamp and shutter repeat to this from shot to shot, of ln light. Chosen: half a hundredth of a stop in density terms, .002.
    constexpr double kRepeatability = 0.005;
    FittedLight light;
    for (int c = 0; c < 4; ++c) {
        light.coefficient[c] = Terms::Zero();
        light.covariance[c] = TermsCovariance::Zero();
        light.shared_std[c] = kRepeatability;
    }
    light.n = 1;
    light.from_bare_light = true;
    return light;
}

}  // namespace basefog::density
