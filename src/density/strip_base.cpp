// SPDX-License-Identifier: GPL-3.0-or-later
#include "density/strip_base.h"

#include "density/constants.h"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <numeric>
#include <utility>

namespace basefog::density {

namespace {

/// Scatter assumed when there are too few cells to tell.
constexpr double kUnknownScatter = 0.01;
/// Cells above the cluster by more than this many of its standard deviations, in this share, make a base "dusty".
constexpr double kDustySigmas = 5, kDustyShare = 0.1;
/// Infrared excess that takes a cell out, floor in density.
constexpr double kInfraredClean = 0.004;
constexpr std::size_t kLeastCells = 5, kLeastBatched = 12;

double mean_rgb(const Channels& d) { return (d[0] + d[1] + d[2]) / 3; }

std::vector<std::size_t> all_of_them(std::size_t n) {
    std::vector<std::size_t> all(n);
    std::iota(all.begin(), all.end(), std::size_t{0});
    return all;
}

/// Scatter of neighbouring cells: what differs from cell to cell, not along the strip.
double neighbour_scatter(const std::vector<double>& values) {
    std::vector<double> differences;
    for (std::size_t i = 1; i < values.size(); ++i) differences.push_back(std::abs(values[i] - values[i - 1]));
    if (differences.size() < 4) return kUnknownScatter;
    // The lower third of the differences comes from pairs without marks; 0.431 is the 1/3 quantile of |z|.
    return quantile(differences, 1.0 / 3) / (0.431 * std::sqrt(2.0));
}

/// Indices of the cells free of residue in infrared.
std::vector<std::size_t> infrared_clean(const std::vector<Channels>& cells) {
    std::vector<double> ir;
    for (const Channels& d : cells) ir.push_back(d[3]);
    const double scatter = neighbour_scatter(ir);
    const double low = lowest_cluster(ir, std::max(kClusterWindow, 3 * scatter));
    std::vector<std::size_t> kept;
    for (std::size_t i = 0; i < cells.size(); ++i) {
        if (cells[i][3] < low + std::max(kInfraredClean, 3 * scatter)) kept.push_back(i);
    }
    return kept.size() >= kLeastCells ? kept : all_of_them(cells.size());
}

/// Uncertainty of a strip's mean by batches: cells near each other share unevenness and marks, so the strip is cut into
/// parts along its length and the parts' means are compared.
double batch_std(std::vector<std::pair<double, double>> along_and_value) {
    constexpr std::size_t kBatches = 6;
    /// What drifts slowly makes neighbouring batches alike: half of them counted as independent.
    constexpr double kIndependent = kBatches / 2.0;
    std::sort(along_and_value.begin(), along_and_value.end());
    std::array<double, kBatches> mean{};
    double total = 0;
    for (std::size_t b = 0; b < kBatches; ++b) {
        const std::size_t from = along_and_value.size() * b / kBatches, to = along_and_value.size() * (b + 1) / kBatches;
        for (std::size_t i = from; i < to; ++i) mean[b] += along_and_value[i].second / static_cast<double>(to - from);
        total += mean[b] / kBatches;
    }
    double squares = 0;
    for (const double m : mean) squares += (m - total) * (m - total);
    return std::sqrt(squares / (kBatches - 1) / kIndependent);
}

}  // namespace

BaseCells densities_of(const std::vector<LightCell>& cells, const FittedLight& light, const Flare& flare) {
    BaseCells result;
    const auto [left, right] = std::minmax_element(cells.begin(), cells.end(), [](const LightCell& a, const LightCell& b) { return a.x < b.x; });
    const auto [top, bottom] = std::minmax_element(cells.begin(), cells.end(), [](const LightCell& a, const LightCell& b) { return a.y < b.y; });
    const bool wide = !cells.empty() && right->x - left->x >= bottom->y - top->y;
    for (const LightCell& cell : cells) {
        const Terms t = terms_at(cell.u, cell.v);
        Channels d{};
        for (int c = 0; c < 4; ++c) {
            const double sample = std::exp(cell.ln_light[c]) - flare.film[c];
            d[c] = sample > 0 ? std::min(kMaxDensity, (t.dot(light.coefficient[c]) - std::log(sample)) / std::numbers::ln10) : kMaxDensity;
        }
        result.density.push_back(d);
        result.along.push_back(wide ? cell.x : cell.y);
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
    const std::vector<std::size_t> clean = has_infrared ? infrared_clean(cells.density) : all_of_them(cells.density.size());
    std::vector<double> means;
    for (const std::size_t i : clean) means.push_back(mean_rgb(cells.density[i]));
    const double scatter = neighbour_scatter(means), window = std::max(kClusterWindow, 3 * scatter);
    const double centre = lowest_cluster(means, window);
    std::array<std::vector<double>, 4> inside;
    std::vector<double> along;
    for (std::size_t i = 0; i < clean.size(); ++i) {
        if (std::abs(means[i] - centre) > window) continue;
        for (int c = 0; c < 4; ++c) inside[c].push_back(cells.density[clean[i]][c]);
        along.push_back(cells.along[clean[i]]);
    }
    const auto n = inside[0].size();
    if (n == 0) return base;
    const auto high = std::count_if(cells.density.begin(), cells.density.end(),
                                    [&](const Channels& d) { return mean_rgb(d) > centre + std::max(window, kDustySigmas * scatter); });
    base.dusty = static_cast<double>(high) > kDustyShare * static_cast<double>(cells.density.size());
    base.measured = true;
    base.n = static_cast<std::int64_t>(n);
    for (int c = 0; c < (has_infrared ? 4 : 3); ++c) {
        std::vector<std::pair<double, double>> placed;
        for (std::size_t i = 0; i < n; ++i) placed.emplace_back(along[i], inside[c][i]);
        base.value[c] = quantile(inside[c], 0.5);
        base.random_std[c] = std::hypot(n >= kLeastBatched ? batch_std(std::move(placed)) : kUnknownScatter, kBaseFloor);
        const double transmitted = bright[c] * std::pow(10.0, -base.value[c]);
        const double flare_std = flare.std_uncertainty[c] / std::max(1e-6, transmitted * std::numbers::ln10);
        base.std_uncertainty[c] = std::hypot(base.random_std[c], light.std_at(c, cells.mean_terms) / std::numbers::ln10, flare_std);
    }
    return base;
}

}  // namespace basefog::density
