// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/unmix.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <Eigen/LU>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

namespace basefog::film {
namespace {

using Eigen::Matrix3d;
using Eigen::Vector3d;

/// Spots this far inside the straight line of every layer take part. Chosen.
constexpr double kInside = 0.3;
/// Spots are averaged to cells, so many along the picture's longer side, those with more than half of their spots of use: neighbouring spots differ by
/// grain, dust and what a scanner's lines are out of register; a picture's colours differ over wider distances. Chosen: 3 x 3 spots of a 36 mm picture.
constexpr double kCellsAlong = 60;
constexpr std::size_t kLeastSteps = 300;
/// Weaker colour than this (mean step, log10 H) is grain, not colour. Chosen: three times a good scan's noise once unmixed.
constexpr double kLeastColour = 0.008;
/// Steps larger than this (log10 H) count by their direction, not their size, where colours are asked whether they go together. Chosen.
constexpr double kSmallStep = 0.01;
/// Degrees of freedom of Student's law. Chosen: a picture of one colour counts, but does not decide.
constexpr double kTails = 4.0;
/// Of the fit: most steps, halvings of one, and the step (sigmas) that is no step any more. Chosen: most rolls take four.
constexpr int kRounds = 12, kHalvings = 6;
constexpr double kEnough = 0.01;
/// No channel sees less of its own layer than this share of a neutral. Chosen: else it is not that layer's channel.
constexpr double kLeastOwnShare = 0.35;
/// Channels that see nearly the same tell no layers apart. Chosen: a quarter of what is assumed; there noise grows fourfold.
constexpr double kLeastDeterminant = 0.1;

constexpr Eigen::Index kUnknowns = 5;
/// Counted in the prior's sigmas from its mean: red's channel sees green's layer, green's red's and blue's, blue's green's, and blue's red's.
using Unknowns = Eigen::Matrix<double, kUnknowns, 1>;

/// Differences of neighbouring cells in slope-normalised channel density.
std::vector<Triple> channel_steps(const Picture& p, const LayerPicture& l, const Rgb<LayerCurve>& curves) {
    const auto inside = [&](std::size_t i) {
        return p.usable[i] &&
               std::all_of(l.exposure[i].begin(), l.exposure[i].end(), [](double h) { return h > kToe + kInside && h < kToe + kLatitude - kInside; });
    };
    const std::int64_t cell = std::max<std::int64_t>(1, std::llround(static_cast<double>(std::max(p.width, p.height)) / kCellsAlong));
    const std::int64_t across = p.width / cell, down = p.height / cell;
    std::vector<std::optional<Triple>> cells;
    for (std::int64_t y = 0; y < down; ++y)
        for (std::int64_t x = 0; x < across; ++x) {
            Triple sum{};
            int n = 0;
            for (std::int64_t dy = 0; dy < cell; ++dy)
                for (std::int64_t dx = 0; dx < cell; ++dx) {
                    const std::size_t i = p.at(cell * x + dx, cell * y + dy);
                    if (!inside(i)) continue;
                    for (std::size_t c = 0; c < 3; ++c) sum[c] += p.density[i][c] / curves[static_cast<int>(c)].slope;
                    ++n;
                }
            for (double& v : sum) v /= std::max(n, 1);
            cells.push_back(2 * n <= cell * cell ? std::nullopt : std::optional(sum));
        }
    std::vector<Triple> steps;
    const auto at = [&](std::int64_t x, std::int64_t y) -> const std::optional<Triple>& { return cells[static_cast<std::size_t>(y * across + x)]; };
    for (std::int64_t y = 0; y < down; ++y)
        for (std::int64_t x = 0; x < across; ++x)
            for (const auto& [nx, ny] : {std::pair{x + 1, y}, {x, y + 1}}) {
                if (nx >= across || ny >= down || !at(x, y) || !at(nx, ny)) continue;
                const Triple &from = *at(x, y), &to = *at(nx, ny);
                steps.push_back({to[0] - from[0], to[1] - from[1], to[2] - from[2]});
            }
    return steps;
}

/// Mean steps of a picture, as the layers' exposures have them.
struct EdgeSteps {
    double red = 0, blue = 0, light = 0;  ///< red - green, blue - green, luminance: mean size
    double together = 0;                  ///< correlation of the first two
};
EdgeSteps edge_steps(const std::vector<Triple>& steps, const Matrix3& layer_from_channel) {
    EdgeSteps out;
    double rr = 0, bb = 0, rb = 0;
    const auto& m = layer_from_channel;
    for (const Triple& d : steps) {
        Triple h;
        for (std::size_t l = 0; l < 3; ++l) h[l] = m[l][0] * d[0] + m[l][1] * d[1] + m[l][2] * d[2];
        const double r = h[0] - h[1], b = h[2] - h[1], y = 0.25 * h[0] + 0.5 * h[1] + 0.25 * h[2];
        out.red += std::abs(r), out.blue += std::abs(b), out.light += std::abs(y);
        const double weight = 1 / std::sqrt(r * r + b * b + 0.25 * y * y + kSmallStep * kSmallStep);
        rr += weight * r * r, bb += weight * b * b, rb += weight * r * b;
    }
    const auto n = static_cast<double>(steps.size());
    out.red /= n, out.blue /= n, out.light /= n;
    out.together = std::clamp(rb / std::sqrt(rr * bb), -0.999, 0.999);
    return out;
}

/// Has a picture colour and light enough to say what is usual? Asked once, of what is assumed: else a fit gains by making pictures grey.
bool tells_colour(const EdgeSteps& s) { return s.red >= kLeastColour && s.blue >= kLeastColour && s.light >= kLeastColour && std::isfinite(s.together); }

/// What kEdgeColour tells of photographs.
Vector3d edge_colour(const EdgeSteps& s) {
    constexpr double kNone = 1e-9;
    const double light = std::max(s.light, kNone);
    return {std::log(std::max(s.red, kNone) / light), std::log(std::max(s.blue, kNone) / light), std::atanh(s.together)};
}

Mix share_of(const Unknowns& x, const SharePrior& prior) {
    const auto scaled = [](double share, double relative_std, double sigmas) { return share * std::exp(relative_std * sigmas); };
    Mix share = prior.mean;
    share[0][1] = scaled(share[0][1], prior.log_std[0], x(0));
    share[1][0] = scaled(share[1][0], prior.log_std[1], x(1));
    share[1][2] = scaled(share[1][2], prior.log_std[2], x(2));
    share[2][1] = scaled(share[2][1], prior.log_std[3], x(3));
    share[2][0] += kBlueOfRedStd * x(4);
    for (std::size_t c = 0; c < 3; ++c) share[c][c] = 1 - share[c][(c + 1) % 3] - share[c][(c + 2) % 3];
    return share;
}

Matrix3d to_eigen(const Matrix3& m) {
    Matrix3d out;
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) out(i, j) = m[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)];
    return out;
}

bool possible(const Mix& share) { return each_sees_its_own(share) && to_eigen(share).determinant() >= kLeastDeterminant; }

/// A point on the way from the prior's mean that is possible; `x` itself if it is.
Unknowns held_back(Unknowns x, const SharePrior& prior) {
    constexpr int kSteps = 60;
    for (int i = 0; i < kSteps; ++i, x *= 0.9)
        if (possible(share_of(x, prior))) return x;
    return Unknowns::Zero();
}

/// One picture's steps, and what it counts.
struct Witness {
    std::vector<Triple> steps;
    double weight = 1;
};

/// How far the pictures' colours are from what is usual, against its spread.
class Problem {
public:
    Problem(std::vector<Witness> witnesses, const SharePrior& prior) : witnesses_(std::move(witnesses)), prior_(prior) {
        Matrix3d covariance;
        for (int i = 0; i < 3; ++i)
            for (int j = 0; j < 3; ++j) {
                const auto a = static_cast<std::size_t>(i), b = static_cast<std::size_t>(j);
                covariance(i, j) = kEdgeColourStd[a] * kEdgeColourStd[b] * kEdgeColourCorrelation[a][b];
            }
        precision_ = covariance.inverse();
        for (const Witness& w : witnesses_) together_ += w.weight;
    }
    [[nodiscard]] double cost(const Unknowns& x) const {
        double sum = x.squaredNorm();
        for (const Departure& d : departures(x)) sum += d.weight * (kTails + 3) * std::log1p(d.chi2 / kTails);
        return sum;
    }
    /// The step that Gauss and Newton take, pictures far from what is usual pulling less.
    [[nodiscard]] Unknowns step(const Unknowns& x) const {
        constexpr double kApart = 0.05;  // Chosen: sigmas; far over rounding, far under a share's own sigma
        const std::vector<Departure> here = departures(x);
        std::array<std::vector<Departure>, kUnknowns> beside;
        for (Eigen::Index k = 0; k < kUnknowns; ++k) beside[static_cast<std::size_t>(k)] = departures(x + kApart * Unknowns::Unit(k));
        Eigen::Matrix<double, kUnknowns, kUnknowns> normal = Eigen::Matrix<double, kUnknowns, kUnknowns>::Identity();
        Unknowns moment = -x;
        for (std::size_t i = 0; i < here.size(); ++i) {
            Eigen::Matrix<double, 3, kUnknowns> jacobian;
            for (Eigen::Index k = 0; k < kUnknowns; ++k) jacobian.col(k) = (beside[static_cast<std::size_t>(k)][i].residual - here[i].residual) / kApart;
            const double pull = here[i].weight * (kTails + 3) / (kTails + here[i].chi2);
            normal += pull * jacobian.transpose() * precision_ * jacobian;
            moment -= pull * jacobian.transpose() * precision_ * here[i].residual;
        }
        return normal.ldlt().solve(moment);
    }

private:
    struct Departure {
        Vector3d residual = Vector3d::Zero();
        double chi2 = 0, weight = 0;
    };
    [[nodiscard]] std::vector<Departure> departures(const Unknowns& x) const {
        const Matrix3 layer_from_channel = inverse(share_of(x, prior_));
        const double worth = 1 / (1 + together_ * kSetVariance);  // of each, as they share the roll's subjects
        std::vector<Departure> out;
        for (const Witness& w : witnesses_) {
            Departure d;
            d.residual = edge_colour(edge_steps(w.steps, layer_from_channel)) - Vector3d(kEdgeColour[0], kEdgeColour[1], kEdgeColour[2]);
            d.chi2 = d.residual.dot(precision_ * d.residual);
            d.weight = worth * w.weight;
            out.push_back(d);
        }
        return out;
    }

    std::vector<Witness> witnesses_;
    SharePrior prior_;
    Matrix3d precision_;
    double together_ = 0;
};

}  // namespace

SharePrior assume_share(bool camera_channels) { return camera_channels ? SharePrior{kCameraShare, kCameraShareStd} : SharePrior{}; }

ShareFit fit_share(const std::vector<Picture>& pictures, const std::vector<LayerPicture>& layers, const std::vector<double>& weights,
                   const std::vector<Rgb<LayerCurve>>& curves, const SharePrior& prior) {
    std::vector<Witness> witnesses;
    for (std::size_t i = 0; i < pictures.size(); ++i) {
        Witness w{channel_steps(pictures[i], layers[i], curves[pictures[i].roll]), weights[i]};
        if (w.steps.size() >= kLeastSteps && tells_colour(edge_steps(w.steps, inverse(prior.mean)))) witnesses.push_back(std::move(w));
    }
    ShareFit fit{prior.mean};
    fit.n_votes = static_cast<int>(witnesses.size());
    if (witnesses.empty()) return fit;
    const Problem problem(std::move(witnesses), prior);
    Unknowns x = Unknowns::Zero();
    double cost = problem.cost(x);
    for (int round = 0; round < kRounds; ++round) {
        Unknowns step = problem.step(x);
        if (!step.allFinite()) break;
        bool better = false;
        for (int i = 0; i < kHalvings && !better; ++i, step /= 2) {
            const Unknowns next = held_back(x + step, prior);
            const double next_cost = problem.cost(next);
            if (next_cost >= cost) continue;
            better = true;
            x = next, cost = next_cost;
        }
        if (!better || step.norm() < kEnough) break;
    }
    fit.share = share_of(x, prior);
    return fit;
}

Matrix3 inverse(const Matrix3& m) {
    const Matrix3d b = to_eigen(m).inverse();
    Matrix3 out{};
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) out[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)] = b(i, j);
    return out;
}

bool each_sees_its_own(const Matrix3& m) { return m[0][0] >= kLeastOwnShare && m[1][1] >= kLeastOwnShare && m[2][2] >= kLeastOwnShare; }

Matrix3 channel_from_dye(const Mix& neutral_share, const Rgb<LayerCurve>& curves) {
    Matrix3 mix{};
    for (int c = 0; c < 3; ++c)
        for (int l = 0; l < 3; ++l)
            mix[static_cast<std::size_t>(c)][static_cast<std::size_t>(l)] =
                neutral_share[static_cast<std::size_t>(c)][static_cast<std::size_t>(l)] * curves[c].slope / curves[l].slope;
    return mix;
}

Matrix3 scene_from_layer() { return inverse(kLayerOverlap); }

}  // namespace basefog::film
