// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/votes.h"

#include "film/constants.h"

#include <algorithm>
#include <cmath>

namespace basefog::film {
namespace {

constexpr double kLightNorm = 6, kEdgeNorm = 5;  // Chosen: best of 1 to 10 on photographs, before single spots rule
constexpr double kModeWidth = 0.06;              // log10 H. Chosen: as the spread of near-neutrals; 0.1 lets colours in
constexpr int kModeSteps = 30;
/// The brightest spots and steepest edges are left out: dust that was missed. Chosen.
constexpr double kTrim = 0.002;
constexpr std::size_t kLeastSpots = 400;
constexpr double kLeastStep = 0.03;  // log10 H between neighbours, to count as an edge
constexpr double kEdgeNoise = 0.02;  // log10 H
constexpr double kAboveToe = 0.2;    // spots lower than this above the foot do not vote on slopes

/// Light in the three layers, with what is expected of a neutral taken off, smoothed over 3 x 3; 0 where unusable.
std::vector<Triple> smooth_light(const LayerPicture& p, const Pair& about) {
    std::vector<Triple> light(p.exposure.size(), Triple{}), out(p.exposure.size(), Triple{});
    for (std::size_t i = 0; i < light.size(); ++i)
        if (p.usable[i]) light[i] = {std::pow(10, p.exposure[i][0] - about[0]), std::pow(10, p.exposure[i][1]), std::pow(10, p.exposure[i][2] - about[1])};
    constexpr std::array<double, 3> kernel{0.25, 0.5, 0.25};
    for (std::int64_t y = 1; y + 1 < p.height; ++y)
        for (std::int64_t x = 1; x + 1 < p.width; ++x) {
            Triple sum{};
            bool whole = true;
            for (std::int64_t dy = -1; dy <= 1 && whole; ++dy)
                for (std::int64_t dx = -1; dx <= 1; ++dx) {
                    const auto j = static_cast<std::size_t>((y + dy) * p.width + x + dx);
                    whole = whole && p.usable[j];
                    const double w = kernel[static_cast<std::size_t>(dy + 1)] * kernel[static_cast<std::size_t>(dx + 1)];
                    for (std::size_t k = 0; k < 3; ++k) sum[k] += w * light[j][k];
                }
            if (whole) out[static_cast<std::size_t>(y * p.width + x)] = sum;
        }
    return out;
}

double weighted(const Triple& v) { return kLayerWeights[0] * v[0] + kLayerWeights[1] * v[1] + kLayerWeights[2] * v[2]; }

/// A norm's answer: log ratios of the layers' p-norms, and the mean height of what made it.
std::optional<CastVote> norm_vote(const std::vector<Triple>& values, const std::vector<double>& height, double p) {
    std::vector<double> order;
    for (const Triple& v : values) order.push_back(weighted(v));
    if (order.size() < kLeastSpots) return std::nullopt;
    std::vector<double> sorted = order;
    const auto cut = static_cast<std::size_t>(static_cast<double>(sorted.size()) * (1 - kTrim));
    std::nth_element(sorted.begin(), sorted.begin() + static_cast<std::ptrdiff_t>(cut), sorted.end());
    const double limit = sorted[cut];
    if (!(limit > 0)) return std::nullopt;
    Triple sum{};
    double at = 0, total = 0;
    for (std::size_t i = 0; i < values.size(); ++i) {
        if (order[i] > limit) continue;
        for (std::size_t k = 0; k < 3; ++k) sum[k] += std::pow(std::max(values[i][k], 0.0) / limit, p);
        const double w = std::pow(order[i] / limit, p);
        at += w * height[i], total += w;
    }
    if (!(sum[0] > 0 && sum[1] > 0 && sum[2] > 0 && total > 0)) return std::nullopt;
    return CastVote{{std::log10(sum[0] / sum[1]) / p, std::log10(sum[2] / sum[1]) / p}, at / total};
}

std::optional<CastVote> light_vote(const std::vector<Triple>& light) {
    std::vector<Triple> values;
    std::vector<double> height;
    for (const Triple& v : light)
        if (v[1] > 0) values.push_back(v), height.push_back(std::log10(weighted(v)) - kToe);
    return norm_vote(values, height, kLightNorm);
}

std::optional<CastVote> edge_vote(const LayerPicture& p, const std::vector<Triple>& light) {
    std::vector<Triple> values;
    std::vector<double> height;
    for (std::int64_t y = 0; y + 1 < p.height; ++y)
        for (std::int64_t x = 0; x + 1 < p.width; ++x) {
            const auto i = static_cast<std::size_t>(y * p.width + x), right = i + 1, below = i + static_cast<std::size_t>(p.width);
            if (!(light[i][1] > 0 && light[right][1] > 0 && light[below][1] > 0)) continue;
            Triple g;
            for (std::size_t k = 0; k < 3; ++k) g[k] = std::hypot(light[right][k] - light[i][k], light[below][k] - light[i][k]);
            values.push_back(g);
            height.push_back(std::log10(std::max({weighted(light[i]), weighted(light[right]), weighted(light[below])})) - kToe);
        }
    return norm_vote(values, height, kEdgeNorm);
}

/// Mean shift of log ratios weighted by light, started about the expected neutral (0 here).
std::optional<CastVote> mode_vote(const std::vector<Triple>& light) {
    struct Spot {
        double red, blue, weight;
    };
    std::vector<Spot> spots;
    double brightest = 0;
    for (const Triple& v : light)
        if (v[0] > 0 && v[1] > 0 && v[2] > 0) {
            spots.push_back({std::log10(v[0] / v[1]), std::log10(v[2] / v[1]), weighted(v)});
            brightest = std::max(brightest, spots.back().weight);
        }
    if (spots.size() < kLeastSpots) return std::nullopt;
    CastVote vote;
    for (int step = 0; step < kModeSteps; ++step) {
        double total = 0, red = 0, blue = 0, at = 0;
        for (const Spot& s : spots) {
            const double dr = (s.red - vote.cast[0]) / kModeWidth, db = (s.blue - vote.cast[1]) / (kModeWidth * std::sqrt(2.0));
            if (dr * dr + db * db > 18) continue;
            const double w = s.weight * std::exp(-0.5 * (dr * dr + db * db));
            total += w, red += w * s.red, blue += w * s.blue, at += w * std::log10(s.weight);
        }
        if (total < 1e-3 * brightest) return std::nullopt;  // nothing near neutral in this picture
        vote = {{red / total, blue / total}, at / total - kToe};
    }
    return vote;
}

}  // namespace

std::optional<CastVote> vote_cast(const LayerPicture& picture, const Pair& about) {
    const std::vector<Triple> light = smooth_light(picture, about);
    CastVote sum;
    double n = 0;
    for (const auto& vote : {light_vote(light), edge_vote(picture, light), mode_vote(light)}) {
        if (!vote) continue;
        for (std::size_t k = 0; k < 2; ++k) sum.cast[k] += vote->cast[k];
        sum.height += vote->height;
        n += 1;
    }
    if (n < 2) return std::nullopt;
    return CastVote{{sum.cast[0] / n + about[0], sum.cast[1] / n + about[1]}, sum.height / n};
}

std::optional<Pair> vote_tilt(const LayerPicture& p) {
    struct Step {
        double exposure, red, blue;
    };
    std::vector<Step> steps;
    const auto add = [&](std::size_t i, std::size_t j) {
        if (!p.usable[i] || !p.usable[j]) return;
        Triple d;
        for (std::size_t k = 0; k < 3; ++k) {
            if (std::min(p.exposure[i][k], p.exposure[j][k]) < kToe + kAboveToe) return;
            d[k] = p.exposure[j][k] - p.exposure[i][k];
        }
        const double mean = (d[0] + d[1] + d[2]) / 3;
        if (std::abs(mean) > kLeastStep) steps.push_back({mean, d[0] - d[1], d[2] - d[1]});
    };
    for (std::int64_t y = 0; y + 1 < p.height; ++y)
        for (std::int64_t x = 0; x + 1 < p.width; ++x) {
            const auto i = static_cast<std::size_t>(y * p.width + x);
            add(i, i + 1);
            add(i, i + static_cast<std::size_t>(p.width));
        }
    if (steps.size() < kLeastSpots) return std::nullopt;
    Pair tilt{};
    for (std::size_t k = 0; k < 2; ++k)
        for (int round = 0; round < 8; ++round) {  // least absolute deviations by reweighting
            double xy = 0, xx = 0;
            for (const Step& s : steps) {
                const double y = k == 0 ? s.red : s.blue;
                const double w = 1 / (std::abs(y - tilt[k] * s.exposure) + kEdgeNoise);
                xy += w * s.exposure * y, xx += w * s.exposure * s.exposure;
            }
            tilt[k] = xy / xx;
        }
    return tilt;
}

}  // namespace basefog::film
