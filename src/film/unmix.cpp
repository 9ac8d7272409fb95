// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/unmix.h"

#include <Eigen/LU>

#include <algorithm>
#include <cmath>
#include <optional>

namespace basefog::film {
namespace {

/// Spots this far inside the straight line of every layer take part. Chosen.
constexpr double kInside = 0.3;
constexpr std::size_t kMostSteps = 3000, kLeastSteps = 300;
/// Weaker colour than this (mean step, log10 H) is grain, not colour. Chosen: three times a good scan's noise once unmixed.
constexpr double kLeastColour = 0.008;
/// Grid over the two scales: this many sigma to either side, this many steps of it.
constexpr double kGridReach = 2.5;
constexpr int kGridSteps = 12;
/// No channel sees less of its own layer than this share of a neutral. Chosen: else it is not that layer's channel.
constexpr double kLeastOwnShare = 0.35;
constexpr double kTails = 2.0;

using Colour = std::array<double, 2>;  // ln of red - green and blue - green steps over luminance steps

/// Neighbouring spots' differences in slope-normalised channel density, thinned evenly.
std::vector<Triple> channel_steps(const Picture& p, const LayerPicture& l, const Rgb<LayerCurve>& curves) {
    const auto inside = [&](std::size_t i) {
        return p.usable[i] &&
               std::all_of(l.exposure[i].begin(), l.exposure[i].end(), [](double h) { return h > kToe + kInside && h < kToe + kLatitude - kInside; });
    };
    std::vector<Triple> all;
    for (std::int64_t y = 0; y + 1 < p.height; ++y)
        for (std::int64_t x = 0; x + 1 < p.width; ++x) {
            const std::size_t i = p.at(x, y);
            if (!inside(i)) continue;
            for (const std::size_t j : {p.at(x + 1, y), p.at(x, y + 1)}) {
                if (!inside(j)) continue;
                Triple d;
                for (int c = 0; c < 3; ++c)
                    d[static_cast<std::size_t>(c)] = (p.density[j][static_cast<std::size_t>(c)] - p.density[i][static_cast<std::size_t>(c)]) / curves[c].slope;
                all.push_back(d);
            }
        }
    std::vector<Triple> thin;
    const std::size_t stride = std::max<std::size_t>(1, all.size() / kMostSteps);
    for (std::size_t i = 0; i < all.size(); i += stride) thin.push_back(all[i]);
    return thin;
}

std::optional<Colour> edge_colour(const std::vector<Triple>& steps, const Matrix3& layer_from_channel) {
    double red = 0, blue = 0, light = 0;
    for (const Triple& d : steps) {
        Triple h;
        for (std::size_t l = 0; l < 3; ++l) h[l] = layer_from_channel[l][0] * d[0] + layer_from_channel[l][1] * d[1] + layer_from_channel[l][2] * d[2];
        red += std::abs(h[0] - h[1]);
        blue += std::abs(h[2] - h[1]);
        light += std::abs(0.25 * h[0] + 0.5 * h[1] + 0.25 * h[2]);
    }
    const double least = kLeastColour * static_cast<double>(steps.size());
    if (red < least || blue < least || light < least) return std::nullopt;
    return Colour{std::log(red / light), std::log(blue / light)};
}

Mix scaled_share(double red_scale, double other_scale) {
    Mix share = kNeutralShare;
    for (std::size_t c = 0; c < 3; ++c) {
        double others = 0;
        for (std::size_t l = 0; l < 3; ++l)
            if (l != c) share[c][l] *= c == 0 ? red_scale : other_scale, others += share[c][l];
        share[c][c] = 1 - others;
    }
    return share;
}

bool possible(const Mix& share) { return share[0][0] >= kLeastOwnShare && share[1][1] >= kLeastOwnShare && share[2][2] >= kLeastOwnShare; }

/// Squared distance under a correlated pair of sigmas.
double chi2(double a, double b, double correlation) { return (a * a - 2 * correlation * a * b + b * b) / (1 - correlation * correlation); }

/// -2 ln likelihood of the photographs' edge colours: a heavy-tailed law about what is usual.
double misfit(const std::vector<std::vector<Triple>>& steps, const std::vector<double>& weights, const Mix& share) {
    const Matrix3 layer_from_channel = inverse(share);
    double sum = 0;
    for (std::size_t i = 0; i < steps.size(); ++i) {
        if (steps[i].size() < kLeastSteps) continue;
        const auto colour = edge_colour(steps[i], layer_from_channel);
        if (!colour) continue;
        const double a = ((*colour)[0] - kEdgeColour[0]) / kEdgeColourStd[0], b = ((*colour)[1] - kEdgeColour[1]) / kEdgeColourStd[1];
        sum += weights[i] * (kTails + 2) * std::log1p(chi2(a, b, kEdgeColourCorrelation) / kTails);
    }
    return sum;
}

}  // namespace

ShareFit fit_share(const std::vector<Picture>& pictures, const std::vector<LayerPicture>& layers, const std::vector<double>& weights,
                   const std::vector<Rgb<LayerCurve>>& curves) {
    std::vector<std::vector<Triple>> steps;
    ShareFit fit;
    double together = 0;
    for (std::size_t i = 0; i < pictures.size(); ++i) {
        steps.push_back(channel_steps(pictures[i], layers[i], curves[pictures[i].roll]));
        if (steps.back().size() < kLeastSteps || !edge_colour(steps.back(), inverse(kNeutralShare))) continue;
        ++fit.n_votes;
        together += weights[i];
    }
    if (fit.n_votes == 0) return fit;
    const double worth = 1 / (1 + together * kSetVariance);  // of each vote, as they share the roll's subjects
    struct Node {
        double red, other, cost;
    };
    std::vector<Node> nodes;
    for (int i = -kGridSteps; i <= kGridSteps; ++i)
        for (int j = -kGridSteps; j <= kGridSteps; ++j) {
            const double a = kGridReach * i / kGridSteps, b = kGridReach * j / kGridSteps;
            const double red = a * kMixStd[0], other = b * kMixStd[1];
            const Mix share = scaled_share(std::exp(red), std::exp(other));
            if (possible(share)) nodes.push_back({red, other, chi2(a, b, kMixCorrelation) + worth * misfit(steps, weights, share)});
        }
    const double least = std::min_element(nodes.begin(), nodes.end(), [](const Node& a, const Node& b) { return a.cost < b.cost; })->cost;
    double total = 0, red = 0, other = 0, red2 = 0, other2 = 0;
    for (const Node& n : nodes) {
        const double w = std::exp(-0.5 * (n.cost - least));
        total += w, red += w * n.red, other += w * n.other, red2 += w * n.red * n.red, other2 += w * n.other * n.other;
    }
    red /= total, other /= total;
    fit.red_scale = std::exp(red), fit.other_scale = std::exp(other);
    fit.red_std = std::sqrt(std::max(red2 / total - red * red, 0.0));
    fit.other_std = std::sqrt(std::max(other2 / total - other * other, 0.0));
    const Mix share = scaled_share(fit.red_scale, fit.other_scale);
    if (possible(share)) fit.share = share;
    return fit;
}

Matrix3 inverse(const Matrix3& m) {
    Eigen::Matrix3d a;
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) a(i, j) = m[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)];
    const Eigen::Matrix3d b = a.inverse();
    Matrix3 out{};
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) out[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)] = b(i, j);
    return out;
}

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
