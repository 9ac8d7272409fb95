// SPDX-License-Identifier: GPL-3.0-or-later
#include "edges.h"

#include "constants.h"
#include "robust.h"

#include <algorithm>
#include <cmath>

namespace basefog::frames {

namespace {

constexpr double kMostClear = 1.06;    // Chosen: of clear film's light; what is brighter is bare
constexpr double kLevelReachMm = 0.4;  // Chosen: light this far past the guard gives the inner level; further in, the picture may be another

struct Weights {
    std::array<float, 3> gain;  ///< makes clear film 1
};

/// (u, v) of a place `inside` mm within the picture's edge and `along` it.
PointPx place_of(const EdgeQuery& query, double along, double inside) {
    switch (query.side) {
        case Side::left:
            return {query.at + inside, along};
        case Side::right:
            return {query.at - inside, along};
        case Side::top:
            return {along, query.at + inside};
        case Side::bottom:
            return {along, query.at - inside};
    }
    return {};
}

Weights weights_at(const SheetLight& light, const Pose& pose, const BaseLevel& base, PointPx mm) {
    const PointPx px = pose.px_from_mm(mm.x, mm.y);
    const std::array<double, 3> bare = light.bare_log(px.x, px.y);
    Weights weights{};
    for (int c = 0; c < 3; ++c) {
        weights.gain[c] = static_cast<float>(base.weight[c] / std::pow(10, bare[c] - base.at(c, mm.x, mm.y)));
    }
    return weights;
}

struct Profiles {
    double band = 0, first = 0, step = 0;  ///< mm: band length, inside-distance of the first sample, spacing
    int n = 0;
    std::vector<double> along;
    std::vector<std::vector<float>> light;
};

Profiles read_profiles(const Overview& overview, const SheetLight& light, const Pose& pose, const BaseLevel& base, const EdgeQuery& query) {
    Profiles out;
    const double px = 1 / pose.px_per_mm();
    out.step = 0.5 * px;
    out.first = -kReachMm;
    out.n = static_cast<int>(2 * kReachMm / out.step) + 1;
    const int bands = std::max(1, static_cast<int>((query.to - query.from) / kBandMm));
    out.band = (query.to - query.from) / bands;
    const int looks = std::max(1, static_cast<int>(std::ceil(out.band * pose.px_per_mm())));
    for (int b = 0; b < bands; ++b) {
        const double middle = query.from + (b + 0.5) * out.band;
        const Weights weights = weights_at(light, pose, base, place_of(query, middle, 0));
        std::vector<float> profile(static_cast<std::size_t>(out.n), 0.0F);
        for (int k = 0; k < out.n; ++k) {
            for (int i = 0; i < looks; ++i) {
                const PointPx mm = place_of(query, middle + ((i + 0.5) / looks - 0.5) * out.band, out.first + k * out.step);
                profile[static_cast<std::size_t>(k)] += light_at(overview, pose.px_from_mm(mm.x, mm.y), weights.gain);
            }
            profile[static_cast<std::size_t>(k)] /= static_cast<float>(looks);
        }
        out.along.push_back(middle);
        out.light.push_back(std::move(profile));
    }
    return out;
}

Profiles pooled(const Profiles& fine, int by) {
    Profiles out = fine;
    out.along.clear();
    out.light.clear();
    out.band = fine.band * by;
    for (std::size_t b = 0; b + static_cast<std::size_t>(by) <= fine.light.size(); b += static_cast<std::size_t>(by)) {
        std::vector<float> profile(static_cast<std::size_t>(fine.n));
        double along = 0;
        for (int k = 0; k < fine.n; ++k) {
            // The middle value of the bands: dust in one of them does not count.
            std::vector<double> values;
            for (int i = 0; i < by; ++i) values.push_back(fine.light[b + static_cast<std::size_t>(i)][static_cast<std::size_t>(k)]);
            std::sort(values.begin(), values.end());
            const std::size_t cut = values.size() / 4;
            double sum = 0;
            for (std::size_t i = cut; i < values.size() - cut; ++i) sum += values[i];
            profile[static_cast<std::size_t>(k)] = static_cast<float>(sum / static_cast<double>(values.size() - 2 * cut));
        }
        for (int i = 0; i < by; ++i) along += fine.along[b + static_cast<std::size_t>(i)] / by;
        out.along.push_back(along);
        out.light.push_back(std::move(profile));
    }
    return out;
}

struct Level {
    double mean = 0, deviation = 0;
    int n = 0;
};
Level level(const std::vector<float>& profile, const Profiles& all, double from, double to) {
    Level out;
    double square = 0;
    for (int k = 0; k < all.n; ++k) {
        const double x = all.first + k * all.step;
        if (x < from || x > to) continue;
        out.mean += profile[static_cast<std::size_t>(k)];
        square += static_cast<double>(profile[static_cast<std::size_t>(k)]) * profile[static_cast<std::size_t>(k)];
        ++out.n;
    }
    if (out.n == 0) return out;
    out.mean /= out.n;
    out.deviation = std::sqrt(std::max(0.0, square / out.n - out.mean * out.mean));
    return out;
}

/// The crossing of `half` nearest to the expected place, falling towards the inside.
bool crossing(const std::vector<float>& profile, const Profiles& all, double half, double reach, double& at) {
    bool found = false;
    for (int k = 0; k + 1 < all.n; ++k) {
        const double a = profile[static_cast<std::size_t>(k)], b = profile[static_cast<std::size_t>(k) + 1];
        if (!(a >= half && b < half)) continue;
        const double x = all.first + (k + (a - half) / (a - b)) * all.step;
        if (std::abs(x) > reach || (found && std::abs(x) >= std::abs(at))) continue;
        at = x;
        found = true;
    }
    return found;
}

/// Where a faint step splits the profile best: the place up to which the light summed above `half` is most.
bool split(const std::vector<float>& profile, const Profiles& all, double half, double reach, double& at) {
    double sum = 0, most = 0;
    bool found = false;
    for (int k = 0; k < all.n; ++k) {
        const double x = all.first + k * all.step;
        if (x < -reach || x > reach) continue;
        sum += profile[static_cast<std::size_t>(k)] - half;
        if (sum <= most) continue;
        most = sum;
        at = x + all.step / 2;
        found = true;
    }
    return found && at < reach - all.step;
}

EdgePoints evaluate(const Profiles& profiles, int pooled_bands, const EdgeQuery& query, double reach) {
    EdgePoints out;
    out.band = profiles.band;
    const double guard = query.blur_guard, outer_to = -guard,
                 outer_from = -(query.beside_picture ? guard + kLevelReachMm : std::max(guard, std::min(guard + kLevelReachMm, query.clear)));
    std::vector<double> noise;
    for (const auto& p : profiles.light) {
        const Level outer = level(p, profiles, outer_from, outer_to);
        if (outer.n >= 3 && outer.mean > 0.3 && outer.mean < kMostClear) noise.push_back(outer.deviation);
    }
    const double floor = std::max(0.0008, 0.003 / std::sqrt(static_cast<double>(pooled_bands)));
    const double sigma = std::max(floor, !noise.empty() ? median(noise) : 3 * floor);
    for (std::size_t b = 0; b < profiles.light.size(); ++b) {
        const auto& p = profiles.light[b];
        const Level outer = level(p, profiles, outer_from, outer_to), inner = level(p, profiles, guard, guard + kLevelReachMm);
        // Too little room, a perforation or the holder: the strip's own base level stands in.
        const bool usable = outer.n >= 3 && outer.mean > 0.3 && outer.mean < kMostClear && outer.deviation < 0.05 + 2 * sigma;
        const double high = usable || query.beside_picture ? outer.mean : 1.0, drop = high - inner.mean;
        if (inner.n == 0 || drop < kLeastStep * sigma) continue;
        double at = 0;
        const double half = 0.5 * (high + inner.mean);
        constexpr double kFaint = 10;  // Chosen: in standard deviations; fainter steps cross their half way several times
        if (!(drop < kFaint * sigma ? split(p, profiles, half, reach, at) : crossing(p, profiles, half, reach, at))) continue;
        out.points.push_back({profiles.along[b], at, std::min(drop, 0.3) / (1 + 4 * std::min(1.0, inner.deviation / drop))});
    }
    out.seen_share = profiles.light.empty() ? 0 : static_cast<double>(out.points.size()) / static_cast<double>(profiles.light.size());
    return out;
}

}  // namespace

EdgePoints look_across(const Overview& overview, const SheetLight& light, const Pose& pose, const BaseLevel& base, const EdgeQuery& query) {
    if (query.to - query.from < 2 * kBandMm) return {};
    const Profiles fine = read_profiles(overview, light, pose, base, query);
    const double reach = query.blur_guard + 0.35;
    EdgePoints best = evaluate(fine, 1, query, reach);
    // A weak step needs longer stretches of edge to stand out of the noise.
    for (const int by : {4, 16, static_cast<int>(fine.light.size())}) {
        if (best.seen_share > 0.35) break;
        EdgePoints longer = evaluate(pooled(fine, by), by, query, reach);
        if (longer.seen_share > 1.3 * best.seen_share) best = std::move(longer);
    }
    return best;
}

bool steps_sharply(const Overview& overview, const SheetLight& light, const Pose& pose, const BaseLevel& base, const EdgeQuery& query) {
    constexpr double kFarMm = 0.25, kMostTrend = 0.2;  // Chosen: width of each window, mm; of the step: even fading gives .4
    if (query.to - query.from < 2 * kBandMm) return false;
    const Profiles fine = read_profiles(overview, light, pose, base, query), all = pooled(fine, static_cast<int>(fine.light.size()));
    const auto& p = all.light.front();
    const double guard = query.blur_guard;
    const Level outer_far = level(p, all, -guard - 2 * kFarMm, -guard - kFarMm), outer = level(p, all, -guard - kFarMm, -guard),
                inner = level(p, all, guard, guard + kFarMm);
    return outer_far.n > 0 && outer.n > 0 && inner.n > 0 && outer.mean < kMostClear &&
           std::abs(outer_far.mean - outer.mean) < kMostTrend * (outer.mean - inner.mean);
}

EdgeFit settle(const EdgePoints& points, const EdgeQuery& query) {
    EdgeFit fit;
    if (points.points.empty()) return fit;
    std::vector<double> offsets, weights;
    for (const EdgePoint& p : points.points) {
        offsets.push_back(p.offset);
        weights.push_back(p.weight);
    }
    const Mode mode = crowd(offsets, weights, kModeWindowMm);
    const double sign = query.side == Side::left || query.side == Side::top ? 1 : -1;
    const double independent = std::max(1.0, mode.n * std::min(1.0, points.band / 1.0));
    fit.at = query.at + sign * mode.at;
    fit.share = mode.share * points.seen_share;
    fit.seen = mode.n * points.band > 1.5 || points.band > 4;
    const double scatter = std::hypot(mode.spread, 0.02) / std::sqrt(independent);
    fit.std = std::hypot(kEdgeFloorMm, scatter) / std::pow(std::clamp(fit.share, 0.05, 1.0), 0.5);
    return fit;
}

}  // namespace basefog::frames
