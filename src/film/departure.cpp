// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/departure.h"

#include "film/constants.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>

#include <algorithm>
#include <cmath>

namespace basefog::film {
namespace {

constexpr std::size_t kFewestNeutrals = 4;
/// One sigma of a departure, and over how much exposure it changes, log10 H. Chosen: published curves leave the form by about as much as their
/// tracing's stroke, .02 in density; safe ranges .02 to .06, .4 to 1.2.
constexpr double kDepartureStd = 0.04, kLength = 0.7;
constexpr double kMost = 0.12;  // log10 H; beyond it is not the film's shape

double kernel(double a, double b) { return kDepartureStd * kDepartureStd * std::exp(-0.5 * (a - b) * (a - b) / (kLength * kLength)); }

}  // namespace

void bend_to_neutrals(FilmModel& model, const std::vector<SeenNeutral>& neutrals) {
    if (model.silver || neutrals.size() < kFewestNeutrals) return;
    const auto n = static_cast<Eigen::Index>(neutrals.size());
    for (int layer = 0; layer < 3; ++layer) {
        const auto l = static_cast<std::size_t>(layer);
        Eigen::MatrixXd covariance(n, n);
        Eigen::VectorXd missing(n), at(n);
        for (Eigen::Index i = 0; i < n; ++i) {
            const SeenNeutral& seen = neutrals[static_cast<std::size_t>(i)];
            double mean = 0;
            for (std::size_t k = 0; k < 3; ++k) mean += kLayerWeights[k] * (seen.exposure[k] - model.balance[static_cast<int>(k)].value());
            missing(i) = mean - (seen.exposure[l] - model.balance[layer].value());
            at(i) = seen.exposure[l] + seen.own[l];
        }
        for (Eigen::Index i = 0; i < n; ++i)
            for (Eigen::Index j = 0; j < n; ++j) covariance(i, j) = kernel(at(i), at(j)) + (i == j ? std::pow(neutrals[static_cast<std::size_t>(i)].sigma[l], 2) : 0.0);
        const Eigen::VectorXd weight = covariance.ldlt().solve(missing);
        for (int node = 0; node < LayerCurve::kNodes; ++node) {
            const double h = LayerCurve::kFirstNode + LayerCurve::kNodeStep * node;  // away from what was seen the form holds
            double sum = 0;
            for (Eigen::Index i = 0; i < n; ++i) sum += kernel(h, at(i)) * weight(i);
            model.curves[layer].departure[static_cast<std::size_t>(node)] = std::clamp(sum, -kMost, kMost);
        }
    }
}

}  // namespace basefog::film
