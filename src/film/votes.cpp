// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/votes.h"

#include "film/constants.h"

#include <algorithm>
#include <cmath>
#include <initializer_list>
#include <numbers>

namespace basefog::film {
namespace {

constexpr int kLightNorm = 6, kEdgeNorm = 5;  // Chosen: best of 1 to 10 on photographs, before single spots rule
constexpr double kModeWidth = 0.06;           // log10 H. Chosen: as the spread of near-neutrals; 0.1 lets colours in
constexpr int kModeSteps = 30;
constexpr double kModeFound = 1e-7;  // log10 H: a step as small as this ends the search
/// The brightest spots and steepest edges are left out: dust that was missed. Chosen.
constexpr double kTrim = 0.002;
constexpr std::size_t kLeastSpots = 400;
constexpr double kLeastStep = 0.03;  // log10 H between neighbours, to count as an edge
constexpr double kEdgeNoise = 0.02;  // log10 H
constexpr double kAboveToe = 0.2;    // spots lower than this above the foot do not vote on slopes
/// Coloured spots tell of subjects, not of film and light: one sigma of red - green and of blue - green, log10 H, beside what is open of the neutral, of
/// what a spot's light is multiplied by before a norm raises it to its power. Chosen: .3 to .07 (of red - green) lower the scatter between photographs
/// steadily; below .1 too few spots are left in some, and what is expected decides more than what is seen.
constexpr Pair kNearNeutral{0.12, 0.17};
constexpr double kLeastNear = 100;  // Chosen: spots or steps, counted by their nearness to neutral; a quarter of kLeastSpots

/// Light in the three layers, smoothed over 3 x 3; 0 where unusable.
std::vector<std::array<float, 3>> smooth_light(const LayerPicture& p) {
    std::vector<Triple> light(p.exposure.size(), Triple{});
    std::vector<std::array<float, 3>> out(p.exposure.size(), std::array<float, 3>{});
    for (std::size_t i = 0; i < light.size(); ++i)
        if (p.usable[i])
            for (std::size_t k = 0; k < 3; ++k) light[i][k] = std::exp(std::numbers::ln10 * p.exposure[i][k]);
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
            if (whole) out[static_cast<std::size_t>(y * p.width + x)] = {static_cast<float>(sum[0]), static_cast<float>(sum[1]), static_cast<float>(sum[2])};
        }
    return out;
}

/// To a whole power, which is a handful of products.
double to_power(double x, int p) {
    double out = x;
    for (int i = 1; i < p; ++i) out *= x;
    return out;
}

double weighted(const Triple& v) { return kLayerWeights[0] * v[0] + kLayerWeights[1] * v[1] + kLayerWeights[2] * v[2]; }

/// How near to the neutral that is expected, 1 to 0, a colour at a height above the toe lies; the less is known of the neutral, the wider it counts.
double nearness(const Pair& colour, double height, const NeutralLine& about) {
    const Pair neutral = about.at(height), open = about.variance_at(height);
    double chi2 = 0;
    for (std::size_t k = 0; k < 2; ++k) {
        const double off = colour[k] - neutral[k];
        chi2 += off * off / (kNearNeutral[k] * kNearNeutral[k] + open[k]);
    }
    return std::exp(-0.5 * chi2);
}

/// Spots or edges that a norm is taken of, and where on the film's scale each lies.
struct Strengths {
    std::vector<Triple> value;
    std::vector<double> weighted, whole, height;  ///< `whole`: whatever their colour
    double count = 0;
    void reserve(std::size_t n) { value.reserve(n), weighted.reserve(n), whole.reserve(n), height.reserve(n); }
    void add(const Triple& v, double at, double share) {
        value.push_back({share * v[0], share * v[1], share * v[2]}), height.push_back(at);
        whole.push_back(film::weighted(v)), weighted.push_back(share * whole.back());
        count += share;
    }
};

/// What all but the few strongest stay under.
double trimmed_most(std::vector<double> strengths) {
    const auto cut = strengths.begin() + static_cast<std::ptrdiff_t>(static_cast<double>(strengths.size()) * (1 - kTrim));
    std::nth_element(strengths.begin(), cut, strengths.end());
    return *cut;
}

/// Of the p-th powers' sum, the part that is near neutral.
double near_share(const Strengths& all, int p) {
    const double limit = trimmed_most(all.whole);
    if (!(limit > 0)) return 0;
    double near = 0, whole = 0;
    for (std::size_t i = 0; i < all.whole.size(); ++i) {
        near += to_power(std::min(all.weighted[i] / limit, 1.0), p);
        whole += to_power(std::min(all.whole[i] / limit, 1.0), p);
    }
    return near / whole;
}

/// A norm's answer: log ratios of the layers' p-norms, and the mean height of what made it.
std::optional<CastVote> norm_vote(const Strengths& all, int p) {
    if (all.value.size() < kLeastSpots || all.count < kLeastNear) return std::nullopt;
    const double limit = trimmed_most(all.weighted);
    if (!(limit > 0)) return std::nullopt;
    Triple sum{};
    double at = 0, total = 0;
    for (std::size_t i = 0; i < all.value.size(); ++i) {
        if (all.weighted[i] > limit) continue;
        for (std::size_t k = 0; k < 3; ++k) sum[k] += to_power(std::max(all.value[i][k], 0.0) / limit, p);
        const double w = to_power(all.weighted[i] / limit, p);
        at += w * all.height[i], total += w;
    }
    if (!(sum[0] > 0 && sum[1] > 0 && sum[2] > 0 && total > 0)) return std::nullopt;
    return CastVote{{std::log10(sum[0] / sum[1]) / p, std::log10(sum[2] / sum[1]) / p}, at / total};
}

/// A picture's smoothed light with what is expected of a neutral taken off.
class Expected {
public:
    Expected(const SmoothPicture& picture, const Pair& about)
        : picture_(picture), light_(picture.light.size()), height_(picture.light.size()), share_(picture.light.size(), 1.0) {
        const double red = std::exp(-std::numbers::ln10 * about[0]), blue = std::exp(-std::numbers::ln10 * about[1]);
        for (std::size_t i = 0; i < light_.size(); ++i) {
            const std::array<float, 3>& v = picture.light[i];
            light_[i] = {v[0] * red, static_cast<double>(v[1]), v[2] * blue};
            height_[i] = light_[i][1] > 0 ? std::log10(weighted(light_[i])) - kToe : 0.0;
        }
    }
    /// Spots count by how near they lie to a neutral.
    void count_near(const NeutralLine& about) {
        for (std::size_t i = 0; i < light_.size(); ++i)
            if (const auto& v = picture_.light[i]; v[0] > 0 && v[1] > 0 && v[2] > 0)
                share_[i] = nearness({std::log10(v[0] / v[1]), std::log10(v[2] / v[1])}, height_[i], about);
            else
                share_[i] = 0;
    }
    [[nodiscard]] Strengths spots() const {
        Strengths all;
        all.reserve(light_.size());
        for (std::size_t i = 0; i < light_.size(); ++i)
            if (light_[i][1] > 0) all.add(light_[i], height_[i], share_[i]);
        return all;
    }
    [[nodiscard]] Strengths edges() const {
        Strengths all;
        all.reserve(light_.size());
        for (std::int64_t y = 0; y + 1 < picture_.height; ++y)
            for (std::int64_t x = 0; x + 1 < picture_.width; ++x) {
                const auto i = static_cast<std::size_t>(y * picture_.width + x), right = i + 1, below = i + static_cast<std::size_t>(picture_.width);
                if (!(light_[i][1] > 0 && light_[right][1] > 0 && light_[below][1] > 0)) continue;
                Triple g;
                for (std::size_t k = 0; k < 3; ++k) {
                    const double across = light_[right][k] - light_[i][k], down = light_[below][k] - light_[i][k];
                    g[k] = std::sqrt(across * across + down * down);
                }
                all.add(g, std::max({height_[i], height_[right], height_[below]}), std::min({share_[i], share_[right], share_[below]}));
            }
        return all;
    }
    /// Mean shift of log ratios weighted by light, started about the expected neutral (0 here).
    [[nodiscard]] std::optional<CastVote> mode_vote() const;

private:
    const SmoothPicture& picture_;
    std::vector<Triple> light_;
    std::vector<double> height_, share_;
};

/// The mean of two opinions or more.
std::optional<CastVote> mean_of(std::initializer_list<std::optional<CastVote>> votes, const Pair& about) {
    CastVote sum;
    double n = 0;
    for (const auto& vote : votes) {
        if (!vote) continue;
        for (std::size_t k = 0; k < 2; ++k) sum.cast[k] += vote->cast[k];
        sum.height += vote->height;
        n += 1;
    }
    if (n < 2) return std::nullopt;
    return CastVote{{sum.cast[0] / n + about[0], sum.cast[1] / n + about[1]}, sum.height / n};
}

std::optional<CastVote> Expected::mode_vote() const {
    struct Spot {
        double red, blue, weight, height;
    };
    std::vector<Spot> spots;
    spots.reserve(light_.size());
    double brightest = 0;
    for (std::size_t i = 0; i < light_.size(); ++i)
        if (const Triple& v = light_[i]; v[0] > 0 && v[1] > 0 && v[2] > 0) {
            spots.push_back({std::log10(v[0] / v[1]), std::log10(v[2] / v[1]), weighted(v), height_[i]});
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
            total += w, red += w * s.red, blue += w * s.blue, at += w * s.height;
        }
        if (total < 1e-3 * brightest) return std::nullopt;  // nothing near neutral in this picture
        const CastVote before = vote;
        vote = {{red / total, blue / total}, at / total};
        if (std::hypot(vote.cast[0] - before.cast[0], vote.cast[1] - before.cast[1]) < kModeFound) break;
    }
    return vote;
}

}  // namespace

SmoothPicture smooth(const LayerPicture& picture) { return {picture.width, picture.height, smooth_light(picture)}; }

std::optional<CastVote> vote_cast(const SmoothPicture& picture, const Pair& about) {
    const Expected light(picture, about);
    return mean_of({norm_vote(light.spots(), kLightNorm), norm_vote(light.edges(), kEdgeNorm), light.mode_vote()}, about);
}

std::optional<CastVote> vote_neutral(const SmoothPicture& picture, const NeutralLine& about) {
    const Pair at = about.at(-kToe);  // mid-grey: what decides a picture's cast lies about there
    Expected light(picture, at);
    light.count_near(about);
    const Strengths spots = light.spots(), edges = light.edges();
    std::optional<CastVote> vote = mean_of({norm_vote(spots, kLightNorm), norm_vote(edges, kEdgeNorm)}, at);
    if (vote) vote->near = std::sqrt(near_share(spots, kLightNorm) * near_share(edges, kEdgeNorm));
    return vote;
}

std::optional<Pair> vote_tilt(const LayerPicture& p, const std::optional<NeutralLine>& about) {
    struct Step {
        double exposure, red, blue, near;
    };
    std::vector<Step> steps;
    double near = 0;
    const double speed = about ? kLayerWeights[0] * about->speed[0] + kLayerWeights[2] * about->speed[1] : 0.0;
    const auto add = [&](std::size_t i, std::size_t j) {
        if (!p.usable[i] || !p.usable[j]) return;
        Triple d;
        for (std::size_t k = 0; k < 3; ++k) {
            if (std::min(p.exposure[i][k], p.exposure[j][k]) < kToe + kAboveToe) return;
            d[k] = p.exposure[j][k] - p.exposure[i][k];
        }
        const double mean = (d[0] + d[1] + d[2]) / 3;
        if (std::abs(mean) <= kLeastStep) return;
        Triple middle;
        for (std::size_t k = 0; k < 3; ++k) middle[k] = (p.exposure[i][k] + p.exposure[j][k]) / 2;
        const Pair colour{middle[0] - middle[1], middle[2] - middle[1]};
        steps.push_back({mean, d[0] - d[1], d[2] - d[1], about ? nearness(colour, weighted(middle) - speed - kToe, *about) : 1.0});
        near += steps.back().near;
    };
    for (std::int64_t y = 0; y + 1 < p.height; ++y)
        for (std::int64_t x = 0; x + 1 < p.width; ++x) {
            const auto i = static_cast<std::size_t>(y * p.width + x);
            add(i, i + 1);
            add(i, i + static_cast<std::size_t>(p.width));
        }
    if (steps.size() < kLeastSpots || near < kLeastNear) return std::nullopt;
    Pair tilt{};
    for (std::size_t k = 0; k < 2; ++k)
        for (int round = 0; round < 8; ++round) {  // least absolute deviations by reweighting
            double xy = 0, xx = 0;
            for (const Step& s : steps) {
                const double y = k == 0 ? s.red : s.blue;
                const double w = s.near / (std::abs(y - tilt[k] * s.exposure) + kEdgeNoise);
                xy += w * s.exposure * y, xx += w * s.exposure * s.exposure;
            }
            tilt[k] = xy / xx;
        }
    return tilt;
}

}  // namespace basefog::film
