// SPDX-License-Identifier: GPL-3.0-or-later
// An even veil of carbon looks like base. What gives it away is its neutrality against a cleaner strip with the same mask,
// and in infrared its opacity where clean film has next to none.
#include "density/constants.h"
#include "density/strip_base.h"

#include <algorithm>
#include <cmath>

namespace basefog::density {

namespace {

constexpr double kSigmas = 3;

Rgb<double> colours(const RawBase& a) { return {a.value[0], a.value[1], a.value[2]}; }
double mean_rgb(const RawBase& a) { return (a.value[0] + a.value[1] + a.value[2]) / 3; }
double own_std(const RawBase& a) { return std::max({a.random_std[0], a.random_std[1], a.random_std[2]}); }

/// Index of the cleanest strip `i` may be compared with by colour: the least dense of the same mask.
int cleanest_alike(const std::vector<RawBase>& bases, const std::vector<bool>& silver, std::size_t i) {
    int best = static_cast<int>(i);
    for (std::size_t j = 0; j < bases.size(); ++j) {
        if (!bases[j].measured || silver[j] || !same_mask(colours(bases[i]), colours(bases[j]))) continue;
        if (mean_rgb(bases[j]) < mean_rgb(bases[static_cast<std::size_t>(best)])) best = static_cast<int>(j);
    }
    return best;
}

double veil_by_colour(const RawBase& base, const RawBase& clean) {
    double least = 1e9, most = -1e9;
    for (int c = 0; c < 3; ++c) {
        least = std::min(least, base.value[c] - clean.value[c]);
        most = std::max(most, base.value[c] - clean.value[c]);
    }
    const double excess = mean_rgb(base) - mean_rgb(clean);
    const double noise = kSigmas * std::hypot(own_std(base), own_std(clean));
    return excess > kLeastVeilColourOnly + noise && most - least < std::max(0.003, 0.2 * excess) ? excess : 0;
}

double veil_by_infrared(const RawBase& base, const RawBase& alike, double sheet_low) {
    const double noise = kSigmas * std::hypot(base.random_std[3], own_std(alike));
    const double against_alike = base.value[3] - alike.value[3];
    const double neutral = mean_rgb(base) - mean_rgb(alike);
    if (&base != &alike && against_alike > kLeastVeil + noise && std::abs(against_alike - neutral) < kSameMask) return against_alike;
    const double against_sheet = base.value[3] - std::min(sheet_low, kCleanInfraredMost);
    return against_sheet > kInfraredStockSpread + noise ? against_sheet : 0;
}

}  // namespace

std::vector<double> remove_veils(std::vector<RawBase>& bases, const std::vector<bool>& silver, bool has_infrared) {
    std::vector<double> veil(bases.size(), 0.0);
    const std::vector<RawBase> raw = bases;
    double sheet_low = 1e9;
    for (std::size_t i = 0; i < raw.size(); ++i) {
        if (raw[i].measured && !silver[i]) sheet_low = std::min(sheet_low, raw[i].value[3]);
    }
    for (std::size_t i = 0; i < raw.size(); ++i) {
        if (!raw[i].measured || silver[i]) continue;
        const auto alike = static_cast<std::size_t>(cleanest_alike(raw, silver, i));
        veil[i] = has_infrared ? veil_by_infrared(raw[i], raw[alike], sheet_low) : veil_by_colour(raw[i], raw[alike]);
        if (veil[i] <= 0) continue;
        for (int c = 0; c < (has_infrared ? 4 : 3); ++c) {
            bases[i].value[c] -= veil[i];
            bases[i].std_uncertainty[c] = std::hypot(bases[i].std_uncertainty[c], own_std(raw[alike]));
            if (alike == i) bases[i].std_uncertainty[c] = std::hypot(bases[i].std_uncertainty[c], kInfraredStockSpread / 2);
        }
        bases[i].dusty = true;
    }
    return veil;
}

}  // namespace basefog::density
