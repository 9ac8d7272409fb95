// SPDX-License-Identifier: GPL-3.0-or-later
#include "line_steps.h"

#include "constants.h"
#include "robust.h"

#include <algorithm>
#include <cmath>

namespace basefog::frames {

namespace {

constexpr double kLeastLineNoise = 0.0003;  // Chosen: 0.07 % of light, under what flare and lamp ripple leave

class LineMedian {
public:
    void add(const StripCells& cells, int iu, int iv) {
        ++looked_;
        const std::size_t i = cells.index(iu, iv);
        if (cells.kind[i] != Cell::film) return;
        const double damping = cells.damping(iu);
        for (int c = 0; c < 3; ++c) values_[c].push_back(damping * (cells.density[i][c] - cells.base.at(c, cells.u_of(iu), cells.v_of(iv))));
    }
    void finish(LineLevels& out) {
        const bool enough = values_[0].size() >= 15 && 3 * values_[0].size() > static_cast<std::size_t>(looked_);
        out.seen.push_back(enough);
        out.level.push_back({});
        for (int c = 0; c < 3; ++c) {
            if (enough) out.level.back()[c] = median(values_[c]);
            values_[c].clear();
        }
        looked_ = 0;
    }

private:
    std::array<std::vector<double>, 3> values_;
    int looked_ = 0;
};

void set_noise(LineLevels& lines, const StripCells& cells, double length) {
    const double independent = std::max(1.0, length / cells.side / 2);  // neighbouring cells share grain and blur
    for (int c = 0; c < 3; ++c) lines.noise[c] = std::max(kLeastLineNoise, 1.25 * cells.base.noise[c] / std::sqrt(independent));
    lines.side = cells.side;
}

/// Deviations by which b is denser than a.
double denser(const LineLevels& lines, const std::array<double, 3>& a, const std::array<double, 3>& b) {
    double sum = 0, square = 0;
    for (int c = 0; c < 3; ++c) {
        const double z = (b[c] - a[c]) / lines.noise[c];
        sum += z;
        square += z * z;
    }
    return sum > 0 ? std::sqrt(square) : -std::sqrt(square);
}

std::array<double, 3> mean_of(const LineLevels& lines, std::size_t first, std::size_t n) {
    std::array<double, 3> out{};
    for (std::size_t i = first; i < first + n; ++i) {
        for (int c = 0; c < 3; ++c) out[c] += lines.level[i][c] / static_cast<double>(n);
    }
    return out;
}

/// The clearest pair of lines within reach of each place.
std::vector<std::array<double, 3>> clearest_near(const LineLevels& lines, int reach) {
    const int n = static_cast<int>(lines.level.size());
    std::vector<std::array<double, 3>> out(lines.level.size());
    for (int i = 0; i < n; ++i) {
        double least = 1e9;
        for (int k = std::max(0, i - reach); k + 2 <= std::min(n, i + reach); ++k) {
            const auto at = static_cast<std::size_t>(k);
            if (!lines.seen[at] || !lines.seen[at + 1]) continue;
            const std::array<double, 3> level = mean_of(lines, at, 2);
            double sum = 0;
            for (int c = 0; c < 3; ++c) sum += level[c] / lines.noise[c];
            if (sum >= least) continue;
            least = sum;
            out[static_cast<std::size_t>(i)] = level;
        }
    }
    return out;
}

/// Share of the rows that step from base to something denser at each column.
Steps straight_steps(const StripCells& cells, const Rows& rows, int block, double tolerance) {
    const double noise = block_noise(cells, 2, block);
    Steps steps{std::vector<double>(static_cast<std::size_t>(cells.nu) + 1, 0.0), std::vector<double>(static_cast<std::size_t>(cells.nu) + 1, 0.0)};
    for (int iu = 3; iu + 3 <= cells.nu; ++iu) {
        const double top = rows.at0 + rows.slope * cells.u_of(iu);
        const int first = std::max(0, cell_index(top + rows.from, cells.v_first, cells.side)),
                  last = std::min(cells.nv, cell_index(top + rows.to, cells.v_first, cells.side));
        int blocks = 0, left = 0, right = 0;
        for (int iv = first; iv + block <= last; iv += block) {
            double before = 0, after = 0;
            bool whole = true;
            for (int k = 0; k < block && whole; ++k) {
                // The cells next to the edge are blurred: one is left out on each side.
                for (const int off : {-3, -2, 1, 2}) {
                    const std::size_t i = cells.index(iu + off, iv + k);
                    whole = whole && cells.kind[i] == Cell::film;
                    (off < 0 ? before : after) += cells.above[i] / (2 * block);
                }
            }
            ++blocks;
            if (!whole) continue;
            left += std::abs(before) < 3 * noise + tolerance && after > before + 5 * noise + tolerance ? 1 : 0;
            right += std::abs(after) < 3 * noise + tolerance && before > after + 5 * noise + tolerance ? 1 : 0;
        }
        if (blocks == 0) continue;
        steps.left[static_cast<std::size_t>(iu)] = static_cast<double>(left) / blocks;
        steps.right[static_cast<std::size_t>(iu)] = static_cast<double>(right) / blocks;
    }
    return steps;
}

}  // namespace

LineLevels column_levels(const StripCells& cells, const Rows& rows) {
    LineLevels out;
    LineMedian line;
    for (int iu = 0; iu < cells.nu; ++iu) {
        const double top = rows.at0 + rows.slope * cells.u_of(iu);
        for (int iv = 0; iv < cells.nv; ++iv) {
            if (cells.v_of(iv) > top + rows.from && cells.v_of(iv) < top + rows.to) line.add(cells, iu, iv);
        }
        line.finish(out);
    }
    set_noise(out, cells, rows.to - rows.from);
    return out;
}

LineLevels row_levels(const StripCells& cells, double u_from, double u_to) {
    LineLevels out;
    LineMedian line;
    for (int iv = 0; iv < cells.nv; ++iv) {
        for (int iu = 0; iu < cells.nu; ++iu) {
            if (cells.u_of(iu) > u_from && cells.u_of(iu) < u_to) line.add(cells, iu, iv);
        }
        line.finish(out);
    }
    set_noise(out, cells, u_to - u_from);
    return out;
}

Steps line_steps(const LineLevels& lines, int outside, double near_mm) {
    constexpr double kSure = 6, kSame = 4;  // Chosen, in deviations
    // Chosen: density above base at which a line counts half as clear film: lines in a picture may be the clearest around and yet be no gap.
    constexpr double kNearBase = 0.04;
    const std::size_t n = lines.level.size();
    Steps steps{std::vector<double>(n + 1, 0.0), std::vector<double>(n + 1, 0.0)};
    const std::vector<std::array<double, 3>> clear = clearest_near(lines, static_cast<int>(std::lround(near_mm / lines.side)));
    const auto out = static_cast<std::size_t>(outside);
    const auto all_seen = [&](std::size_t first, std::size_t count) {
        for (std::size_t i = first; i < first + count; ++i) {
            if (!lines.seen[i]) return false;
        }
        return true;
    };
    for (std::size_t i = 3; i + 3 <= n; ++i) {
        // The line next to the edge is blurred; it is left out on each side.
        const auto tell = [&](std::size_t outer, std::size_t inner) {
            if (!all_seen(outer, out) || !all_seen(inner, 2)) return 0.0;
            const std::array<double, 3> base = mean_of(lines, outer, out), picture = mean_of(lines, inner, 2);
            if (denser(lines, clear[i < n ? i : n - 1], base) > kSame || denser(lines, base, picture) < kSure) return 0.0;
            return 1 / (1 + std::pow(std::max(0.0, (base[0] + base[1] + base[2]) / 3) / kNearBase, 4));
        };
        steps.left[i] = tell(i - 1 - out, i + 1);
        steps.right[i] = tell(i + 1, i - 3);
    }
    return steps;
}

Steps column_steps(const StripCells& cells, const Rows& rows) {
    Steps steps = line_steps(column_levels(cells, rows), 2, kNearMm);
    const Steps tall = straight_steps(cells, rows, 10, 0.003), brief = straight_steps(cells, rows, 3, 0.005);
    for (std::size_t i = 0; i < steps.left.size(); ++i) {
        steps.left[i] = 0.5 * steps.left[i] + 0.3 * tall.left[i] + 0.2 * brief.left[i];
        steps.right[i] = 0.5 * steps.right[i] + 0.3 * tall.right[i] + 0.2 * brief.right[i];
    }
    return steps;
}

std::vector<double> column_joints(const StripCells& cells, const Rows& rows) {
    // Chosen: cells of three rows; a step of 0.015 and five deviations, of which no more than a part goes on beside it.
    constexpr int kBlock = 3;
    constexpr double kLeast = 0.015, kBeside = 0.4;
    const double noise = block_noise(cells, 2, kBlock);
    std::vector<double> joints(static_cast<std::size_t>(cells.nu) + 1, 0.0), damping, fog;
    // As it is on the film: in a dense picture the course of fog leaves less than it does beside it, and taking it off would make steps.
    for (int iu = 0; iu < cells.nu; ++iu) {
        damping.push_back(cells.damping(iu));
        fog.push_back(cells.base.fog_at(cells.u_of(iu)));
    }
    for (int iu = 5; iu + 5 <= cells.nu; ++iu) {
        const double top = rows.at0 + rows.slope * cells.u_of(iu);
        const int first = std::max(0, cell_index(top + rows.from, cells.v_first, cells.side)),
                  last = std::min(cells.nv, cell_index(top + rows.to, cells.v_first, cells.side));
        int blocks = 0, steps = 0;
        for (int iv = first; iv + kBlock <= last; iv += kBlock) {
            bool whole = true;
            const auto pair = [&](int off) {
                double sum = 0;
                for (int k = 0; k < kBlock; ++k) {
                    for (const int o : {off, off + 1}) {
                        const std::size_t i = cells.index(iu + o, iv + k);
                        const auto column = static_cast<std::size_t>(iu + o);
                        whole = whole && cells.kind[i] == Cell::film;
                        sum += cells.above[i] / damping[column] + fog[column];
                    }
                }
                return sum / (2 * kBlock);
            };
            const double far = pair(-5), before = pair(-3), after = pair(1), beyond = pair(3), step = after - before;
            ++blocks;
            const double grain = noise * std::pow(10, 0.5 * std::max({0.0, before, after}));  // less light, more noise
            if (!whole || std::abs(step) < 5 * grain + kLeast) continue;
            steps += std::max(std::abs(before - far), std::abs(beyond - after)) < 3 * grain + kBeside * std::abs(step) ? 1 : 0;
        }
        if (blocks > 0) joints[static_cast<std::size_t>(iu)] = static_cast<double>(steps) / blocks;
    }
    return joints;
}

}  // namespace basefog::frames
