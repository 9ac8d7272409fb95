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

/// Evidence down the rows, in stretches along the strip, and the straight edges among them.
class RowEvidence {
public:
    RowEvidence(const StripCells& cells, const Chain& chain, double dirty, const Gauge& gauge) : cells_(cells), steps_(steps_of_rows(cells, chain, gauge)) {
        const Evidence evidence(block_noise(cells, kBlock, 1), dirty);
        for (const Slot& slot : chain.slots) {
            if (!slot.seen) continue;
            for (double u = slot.u + 1.5; u + kChunkMm <= slot.u + gauge.width - 1.5 + 1e-9; u += kChunkMm) add_chunk(u, evidence, slot.share);
        }
    }
    /// For pictures whose upper edge is at0 + slope u.
    [[nodiscard]] double of(double at0, double slope, double height) const {
        double total = 0;
        for (std::size_t c = 0; c < u_.size(); ++c) {
            const double v = at0 + slope * u_[c];
            total += sum_to(c, v + height) - sum_to(c, v);
        }
        for (const RowSteps& r : steps_) total += kStepEvidence / 3 * r.at(at0 + slope * r.u, height, cells_);
        return total;
    }

private:
    static constexpr double kChunkMm = 3;
    static constexpr int kBlock = 3;

    void add_chunk(double u, const Evidence& evidence, int share) {
        const int first = std::max(0, cell_index(u, cells_.u_first, cells_.side)),
                  last = std::min(cells_.nu, cell_index(u + kChunkMm, cells_.u_first, cells_.side));
        std::vector<double> sums(static_cast<std::size_t>(cells_.nv) + 1, 0.0);
        for (int iv = 0; iv < cells_.nv; ++iv) {
            double total = 0;
            int blocks = 0;
            for (int iu = first; iu + kBlock <= last; iu += kBlock) {
                double sum = 0;
                int n = 0, bare = 0;
                for (int k = 0; k < kBlock; ++k) {
                    const std::size_t i = cells_.index(iu + k, iv);
                    n += cells_.kind[i] == Cell::film ? 1 : 0;
                    bare += cells_.kind[i] == Cell::bare ? 1 : 0;
                    sum += cells_.kind[i] == Cell::film ? cells_.above[i] : 0;
                }
                if (n == 0 && bare == 0) continue;
                ++blocks;
                total += n > 0 ? evidence.of(sum / n, share) : kNotPicture;
            }
            const double looks = kLooksPerMm * cells_.side * kChunkMm / 18;
            sums[static_cast<std::size_t>(iv) + 1] = sums[static_cast<std::size_t>(iv)] + (blocks > 0 ? looks * total / blocks : 0);
        }
        u_.push_back(u + kChunkMm / 2);
        sums_.push_back(std::move(sums));
    }
    [[nodiscard]] double sum_to(std::size_t chunk, double v) const {
        const double x = std::clamp((v - cells_.v_first) / cells_.side, 0.0, static_cast<double>(cells_.nv));
        const auto i = std::min(static_cast<std::size_t>(x), static_cast<std::size_t>(cells_.nv) - 1);
        return sums_[chunk][i] + (x - static_cast<double>(i)) * (sums_[chunk][i + 1] - sums_[chunk][i]);
    }

    const StripCells& cells_;
    std::vector<RowSteps> steps_;
    std::vector<double> u_;
    std::vector<std::vector<double>> sums_;  ///< cumulated down the rows
};

}  // namespace

TopLine find_top(const StripCells& cells, const StripPlace& place, const Chain& chain, double dirty, const Gauge& gauge) {
    const RowEvidence rows(cells, chain, dirty, gauge);
    const double height = gauge.height, top = place.axis_v - height / 2, slope_step = kCellMm / std::max(40.0, place.length());
    const double reach = place.axis_std < 1 ? 3 * place.axis_std : std::max({1.5, 0.5 * (place.width() - height) + 1.5, place.axis_std});
    const double most_slope = std::tan((place.slope_std < 0.002 ? 0.3 : 1.5) * std::numbers::pi / 180);
    const auto prior = [&](double off, double slope) { return -0.5 * std::pow(off / place.axis_std, 2) - 0.5 * std::pow(slope / place.slope_std, 2); };
    TopLine best{top, 0, -1e9};
    const int slopes = static_cast<int>(most_slope / slope_step);
    for (int k = -slopes; k <= slopes; ++k) {
        for (double off = -reach; off <= reach; off += kCellMm / 2) {
            const double total = rows.of(top + off, k * slope_step, height) + prior(off, k * slope_step);
            if (total > best.evidence) best = {top + off, k * slope_step, total};
        }
    }
    return best;
}

}  // namespace basefog::frames
