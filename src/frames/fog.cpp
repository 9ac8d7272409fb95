// SPDX-License-Identifier: GPL-3.0-or-later
#include "fog.h"

#include "constants.h"
#include "robust.h"

#include <algorithm>
#include <cmath>

namespace basefog::frames {

namespace {

/// Densities above base of one column on one side's rebate, or of the picture's band.
struct Column {
    std::array<double, 3> density{};
    double combined = 0;
    bool seen = false;
};

/// Middle density of the column's film between two heights.
Column look(const StripCells& cells, int iu, double from, double to) {
    constexpr std::size_t kLeast = 2;
    std::array<std::vector<double>, 3> values;
    Column out;
    const double u = cells.u_of(iu);
    for (int iv = std::max(0, cell_index(from, cells.v_first, cells.side)); iv < std::min(cells.nv, cell_index(to, cells.v_first, cells.side)); ++iv) {
        const std::size_t i = cells.index(iu, iv);
        if (cells.kind[i] != Cell::film) continue;
        for (int c = 0; c < 3; ++c) values[c].push_back(cells.density[i][c] - cells.base.at(c, u, cells.v_of(iv)));
    }
    out.seen = values[0].size() >= kLeast;
    for (int c = 0; c < 3 && out.seen; ++c) {
        out.density[c] = median(std::move(values[c]));
        out.combined += cells.base.weight[c] * out.density[c];
    }
    return out;
}

/// Columns at holes see no rebate: they lie between their neighbours.
void fill_holes(std::vector<Column>& columns, double side) {
    constexpr double kReachMm = 4;  // Chosen: a hole and the scanner's spread on both sides of it
    const int n = static_cast<int>(columns.size()), reach = static_cast<int>(kReachMm / side);
    const std::vector<Column> before = columns;
    for (int i = 0, last = -1; i < n; ++i) {
        if (before[static_cast<std::size_t>(i)].seen) {
            last = i;
            continue;
        }
        int next = i;
        while (next < n && !before[static_cast<std::size_t>(next)].seen) ++next;
        Column& out = columns[static_cast<std::size_t>(i)];
        const bool left = last >= 0 && i - last <= reach, right = next < n && next - i <= reach;
        if (!left && !right) continue;
        const Column &a = before[static_cast<std::size_t>(left ? last : next)], &b = before[static_cast<std::size_t>(right ? next : last)];
        const double t = left && right ? static_cast<double>(i - last) / (next - last) : 0;
        for (int c = 0; c < 3; ++c) out.density[c] = (1 - t) * a.density[c] + t * b.density[c];
        out.combined = (1 - t) * a.combined + t * b.combined;
        out.seen = true;
    }
}

std::vector<double> smoothed(const std::vector<double>& values, int reach) {
    const int n = static_cast<int>(values.size());
    std::vector<double> middle(values.size()), out(values.size());
    for (int i = 0; i < n; ++i) {
        const auto from = values.begin() + std::max(0, i - reach), to = values.begin() + std::min(n, i + reach + 1);
        middle[static_cast<std::size_t>(i)] = median({from, to});
    }
    for (int i = 0; i < n; ++i) {
        double sum = 0;
        const int from = std::max(0, i - reach / 2), to = std::min(n, i + reach / 2 + 1);
        for (int k = from; k < to; ++k) sum += middle[static_cast<std::size_t>(k)];
        out[static_cast<std::size_t>(i)] = sum / (to - from);
    }
    return out;
}

/// A light part of the picture's band: it got the stray light too, so what stands higher on the rebate is dirt.
std::vector<double> lowest_within(const StripCells& cells, const Rows& rows, double height) {
    constexpr double kShare = 0.2, kInside = 0.6;
    std::vector<double> out;
    for (int iu = 0; iu < cells.nu; ++iu) {
        const double top = rows.at0 + rows.slope * cells.u_of(iu);
        std::vector<double> values;
        for (int iv = 0; iv < cells.nv; ++iv) {
            const double below = cells.v_of(iv) - top;
            if (below > kInside && below < height - kInside && cells.kind[cells.index(iu, iv)] == Cell::film)
                values.push_back(cells.above[cells.index(iu, iv)]);
        }
        out.push_back(at_share(std::move(values), kShare));
    }
    return out;
}

}  // namespace

void measure_fog(StripCells& cells, const Rows& rows, double height) {
    constexpr double kNear = 0.3, kFar = 1.6;        // Chosen: mm outside the pictures' long edges: clear of blur, short of the film's printed edges
    constexpr double kNone = 0.02, kCertain = 0.05;  // Chosen: density; base is flat to a hundredth
    const int smooth = static_cast<int>(std::lround(0.6 / cells.side));
    std::array<std::vector<Column>, 2> sides;
    for (int iu = 0; iu < cells.nu; ++iu) {
        const double top = rows.at0 + rows.slope * cells.u_of(iu);
        sides[0].push_back(look(cells, iu, top - kFar, top - kNear));
        sides[1].push_back(look(cells, iu, top + height + kNear, top + height + kFar));
    }
    for (auto& side : sides) fill_holes(side, cells.side);
    // What both sides have, crossed the film from edge to edge.
    std::vector<Column> both(sides[0].size());
    std::vector<double> level;
    for (std::size_t i = 0; i < both.size(); ++i) {
        const Column &a = sides[0][i], &b = sides[1][i];
        both[i] = !b.seen || (a.seen && a.combined < b.combined) ? a : b;
        level.push_back(both[i].combined);
    }
    level = smoothed(level, smooth);
    const std::vector<double> within = smoothed(lowest_within(cells, rows, height), smooth);
    bool any = false;
    std::vector<std::array<float, 3>> fog(both.size());
    for (std::size_t i = 0; i < both.size(); ++i) {
        const double y = std::min(level[i], within[i]), share = std::clamp((y - kNone) / (kCertain - kNone), 0.0, 1.0);
        any = any || share >= 1;
        for (int c = 0; c < 3; ++c)
            fog[i][c] = both[i].combined > 1e-3 ? static_cast<float>(share * y * std::max(0.0, both[i].density[c]) / both[i].combined) : 0;
    }
    if (any) set_fog(cells, std::move(fog));
}

}  // namespace basefog::frames
