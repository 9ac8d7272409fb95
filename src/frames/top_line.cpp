// SPDX-License-Identifier: GPL-3.0-or-later
#include "top_line.h"

#include "constants.h"
#include "line_steps.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace basefog::frames {

namespace {

/// Straight edges along the strip, from the middle level of each row over a third of a frame.
struct RowSteps {
    double u = 0;
    Steps steps;
    [[nodiscard]] double at(double top, double height, const StripCells& cells) const {
        const int upper = cell_index(top, cells.v_first, cells.side), lower = cell_index(top + height, cells.v_first, cells.side);
        double sum = 0;
        if (upper >= 0 && upper <= cells.nv) sum += steps.left[static_cast<std::size_t>(upper)];
        if (lower >= 0 && lower <= cells.nv) sum += steps.right[static_cast<std::size_t>(lower)];
        return sum;
    }
};
std::vector<RowSteps> steps_of_rows(const StripCells& cells, const Chain& chain, const Gauge& gauge) {
    std::vector<RowSteps> out;
    const double third = (gauge.width - 2) / 3;
    for (const Slot& slot : chain.slots) {
        for (int k = 0; k < 3 && slot.seen; ++k) {
            const double from = slot.u + 1 + k * third;
            // One cell only outside: the rebate between picture and holder or holes is narrow.
            out.push_back({from + third / 2, line_steps(row_levels(cells, from, from + third), 1, kNearMm)});
        }
    }
    return out;
}

}  // namespace

TopLine find_top(const StripCells& cells, const StripPlace& place, const Chain& chain, double dirty, const Gauge& gauge) {
    constexpr double kChunkMm = 3;
    constexpr int kBlock = 3;
    const Evidence evidence(block_noise(cells, kBlock, 1), dirty);
    const double width = gauge.width, height = gauge.height;
    std::vector<double> chunk_u;
    std::vector<std::vector<double>> chunk_sums;  // cumulated down the rows
    for (const Slot& slot : chain.slots) {
        if (!slot.seen) continue;
        for (double u = slot.u + 1.5; u + kChunkMm <= slot.u + width - 1.5 + 1e-9; u += kChunkMm) {
            const int first = std::max(0, cell_index(u, cells.u_first, cells.side)),
                      last = std::min(cells.nu, cell_index(u + kChunkMm, cells.u_first, cells.side));
            std::vector<double> sums(static_cast<std::size_t>(cells.nv) + 1, 0.0);
            for (int iv = 0; iv < cells.nv; ++iv) {
                double total = 0;
                int blocks = 0;
                for (int iu = first; iu + kBlock <= last; iu += kBlock) {
                    double sum = 0;
                    int n = 0, bare = 0;
                    for (int k = 0; k < kBlock; ++k) {
                        const std::size_t i = cells.index(iu + k, iv);
                        n += cells.kind[i] == Cell::film ? 1 : 0;
                        bare += cells.kind[i] == Cell::bare ? 1 : 0;
                        sum += cells.kind[i] == Cell::film ? cells.above[i] : 0;
                    }
                    if (n == 0 && bare == 0) continue;
                    ++blocks;
                    total += n > 0 ? evidence.of(sum / n, slot.share) : kNotPicture;
                }
                sums[static_cast<std::size_t>(iv) + 1] =
                    sums[static_cast<std::size_t>(iv)] + (blocks > 0 ? kLooksPerMm * cells.side * total / blocks * kChunkMm / 18 : 0);
            }
            chunk_u.push_back(u + kChunkMm / 2);
            chunk_sums.push_back(std::move(sums));
        }
    }
    const std::vector<RowSteps> row_steps = steps_of_rows(cells, chain, gauge);
    TopLine best;
    const double centre = place.axis_v;
    best.at0 = centre - height / 2;
    best.evidence = -1e9;
    const double reach = place.axis_std < 1 ? 3 * place.axis_std : std::max({1.5, 0.5 * (place.width() - height) + 1.5, place.axis_std});
    const double most_slope = std::tan((place.slope_std < 0.002 ? 0.3 : 1.5) * std::numbers::pi / 180);
    const double centre_std = place.axis_std, slope_std = place.slope_std;
    const double slope_step = kCellMm / std::max(40.0, place.length());
    const int slopes = static_cast<int>(most_slope / slope_step);
    for (int k = -slopes; k <= slopes; ++k) {
        const double slope = k * slope_step;
        for (double off = -reach; off <= reach; off += kCellMm / 2) {
            const double at0 = centre - height / 2 + off;
            double total = -0.5 * std::pow(off / centre_std, 2) - 0.5 * std::pow(slope / slope_std, 2);
            for (std::size_t c = 0; c < chunk_u.size(); ++c) {
                const auto sum_at = [&](double v) {
                    const double x = std::clamp((v - cells.v_first) / cells.side, 0.0, static_cast<double>(cells.nv));
                    const auto i = std::min(static_cast<std::size_t>(x), static_cast<std::size_t>(cells.nv) - 1);
                    return chunk_sums[c][i] + (x - static_cast<double>(i)) * (chunk_sums[c][i + 1] - chunk_sums[c][i]);
                };
                const double v = at0 + slope * chunk_u[c];
                total += sum_at(v + height) - sum_at(v);
            }
            for (const RowSteps& r : row_steps) total += kStepEvidence / 3 * r.at(at0 + slope * r.u, height, cells);
            if (total > best.evidence) best = {at0, slope, total};
        }
    }
    return best;
}

}  // namespace basefog::frames
