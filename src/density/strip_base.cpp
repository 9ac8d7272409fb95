// SPDX-License-Identifier: GPL-3.0-or-later
#include "density/strip_base.h"

#include "density/constants.h"

#include <algorithm>
#include <cmath>

namespace basefog::density {

namespace {

constexpr double kLn10 = 2.302585092994045684;
/// Scatter assumed when there are too few cells to tell.
constexpr double kUnknownScatter = 0.01;
/// Cells above the cluster by more than this many of its standard deviations, in this share, make a base "dusty".
constexpr double kDustySigmas = 5, kDustyShare = 0.1;
/// Infrared excess that takes a cell out, floor in density.
constexpr double kInfraredClean = 0.004;
constexpr std::size_t kLeastCells = 5;

double mean_rgb(const Channels& d) { return (d[0] + d[1] + d[2]) / 3; }

/// Scatter of neighbouring cells: what differs from cell to cell, not along the strip.
double neighbour_scatter(const std::vector<double>& values) {
    std::vector<double> differences;
    for (std::size_t i = 1; i < values.size(); ++i) differences.push_back(std::abs(values[i] - values[i - 1]));
    if (differences.size() < 4) return kUnknownScatter;
    // The lower third of the differences comes from pairs without marks; 0.431 is the 1/3 quantile of |z|.
    return quantile(differences, 1.0 / 3) / (0.431 * std::sqrt(2.0));
}

std::vector<Channels> infrared_clean(const std::vector<Channels>& cells) {
    std::vector<double> ir;
    for (const Channels& d : cells) ir.push_back(d[3]);
    const double scatter = neighbour_scatter(ir);
    const double low = lowest_cluster(ir, std::max(kClusterWindow, 3 * scatter));
    std::vector<Channels> kept;
    for (const Channels& d : cells) {
        if (d[3] < low + std::max(kInfraredClean, 3 * scatter)) kept.push_back(d);
    }
    return kept.size() >= kLeastCells ? kept : cells;
}

}  // namespace

BaseCells densities_of(const std::vector<LightCell>& cells, const FittedLight& light, const Flare& flare) {
    BaseCells result;
    for (const LightCell& cell : cells) {
        const Terms t = terms_at(cell.u, cell.v);
        Channels d{};
        for (int c = 0; c < 4; ++c) {
            const double sample = std::exp(cell.ln_light[c]) - flare.film[c];
            d[c] = sample > 0 ? std::min(kMaxDensity, (t.dot(light.coefficient[c]) - std::log(sample)) / kLn10) : kMaxDensity;
        }
        result.density.push_back(d);
        result.mean_terms += t / static_cast<double>(cells.size());
        result.clipped |= cell.clipped;
    }
    return result;
}

double lowest_cluster(std::vector<double> values, double window) {
    if (values.empty()) return 0;
    std::sort(values.begin(), values.end());
    std::vector<std::size_t> count(values.size());
    std::size_t most = 0;
    for (std::size_t i = 0, j = 0; i < values.size(); ++i) {
        while (j < values.size() && values[j] <= values[i] + window) ++j;
        count[i] = j - i;
        most = std::max(most, count[i]);
    }
    const auto enough = static_cast<std::size_t>(std::ceil(kClusterShare * static_cast<double>(most)));
    std::size_t start = 0;
    while (count[start] < enough) ++start;
    double centre = values[start] + window / 2;
    for (int round = 0; round < 30; ++round) {
        const auto from = std::lower_bound(values.begin(), values.end(), centre - window);
        const auto to = std::upper_bound(from, values.end(), centre + window);
        if (from == to) break;
        const double next = *(from + (to - from) / 2);
        if (next == centre) break;
        centre = next;
    }
    return centre;
}

RawBase estimate_base(const BaseCells& cells, const FittedLight& light, const Flare& flare, const Channels& bright, bool has_infrared) {
    RawBase base;
    base.clipped = cells.clipped;
    if (cells.density.empty()) return base;
    const std::vector<Channels> clean = has_infrared ? infrared_clean(cells.density) : cells.density;
    std::vector<double> means;
    for (const Channels& d : clean) means.push_back(mean_rgb(d));
    const double scatter = neighbour_scatter(means), window = std::max(kClusterWindow, 3 * scatter);
    const double centre = lowest_cluster(means, window);
    std::array<std::vector<double>, 4> inside;
    for (std::size_t i = 0; i < clean.size(); ++i) {
        if (std::abs(means[i] - centre) > window) continue;
        for (int c = 0; c < 4; ++c) inside[c].push_back(clean[i][c]);
    }
    const auto n = inside[0].size();
    if (n == 0) return base;
    const auto high = std::count_if(cells.density.begin(), cells.density.end(),
                                    [&](const Channels& d) { return mean_rgb(d) > centre + std::max(window, kDustySigmas * scatter); });
    base.dusty = static_cast<double>(high) > kDustyShare * static_cast<double>(cells.density.size());
    base.measured = true;
    base.n = static_cast<std::int64_t>(n);
    for (int c = 0; c < (has_infrared ? 4 : 3); ++c) {
        base.value[c] = quantile(inside[c], 0.5);
        std::vector<double> off;
        for (const double d : inside[c]) off.push_back(std::abs(d - base.value[c]));
        const double spread = n >= kLeastCells ? 1.4826 * quantile(off, 0.5) : kUnknownScatter;
        // Neighbouring cells share marks and unevenness: a quarter of them counted as independent.
        base.random_std[c] = std::hypot(1.2533 * spread / std::sqrt(std::max(1.0, static_cast<double>(n) / 4)), kBaseFloor);
        const double transmitted = bright[c] * std::pow(10.0, -base.value[c]);
        const double flare_std = flare.std_uncertainty[c] / std::max(1e-6, transmitted * kLn10);
        base.std_uncertainty[c] = std::hypot(base.random_std[c], light.std_at(c, cells.mean_terms) / kLn10, flare_std);
    }
    return base;
}

}  // namespace basefog::density
