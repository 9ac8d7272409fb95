// SPDX-License-Identifier: GPL-3.0-or-later
#include "density/cells.h"

#include "density/constants.h"

#include <algorithm>
#include <cmath>

namespace basefog::density {

namespace {

struct Members {
    std::vector<LinearRgbi> light;
    double x = 0, y = 0;
};

/// Calls `use(members)` for each cell with the pixels that `wanted(x, y)` picks.
template <class Wanted, class Use>
void for_each_cell(const Overview& overview, const Grid& grid, Wanted&& wanted, Use&& use) {
    Members members;
    const std::int64_t width = overview.pixels.width(), height = overview.pixels.height();
    for (std::int64_t row = 0; row < grid.rows; ++row) {
        for (std::int64_t column = 0; column < grid.columns; ++column) {
            members.light.clear();
            members.x = members.y = 0;
            for (std::int64_t y = row * grid.cell; y < std::min(height, (row + 1) * grid.cell); ++y) {
                for (std::int64_t x = column * grid.cell; x < std::min(width, (column + 1) * grid.cell); ++x) {
                    if (!wanted(x, y) || !finite(overview.pixels(x, y))) continue;
                    members.light.push_back(overview.pixels(x, y));
                    members.x += static_cast<double>(x) + 0.5;
                    members.y += static_cast<double>(y) + 0.5;
                }
            }
            if (!members.light.empty()) use(members);
        }
    }
}

LightCell place(const Members& members, const Overview& overview) {
    const double n = static_cast<double>(members.light.size());
    LightCell cell;
    cell.x = members.x / n;
    cell.y = members.y / n;
    cell.u = members.x / n * overview.factor / static_cast<double>(overview.scan_width) * 2 - 1;
    cell.v = members.y / n * overview.factor / static_cast<double>(overview.scan_height) * 2 - 1;
    cell.n = static_cast<int>(members.light.size());
    return cell;
}

double level_above(std::vector<double>& values, double noise) {
    const double cut = quantile(values, kUpperLevel) * (1 - kUpperCut * noise);
    std::vector<double> kept;
    for (const double v : values) {
        if (v >= cut) kept.push_back(v);
    }
    return quantile(kept, 0.5);
}

double safe_log(double light) { return std::log(std::max(light, 1e-6)); }

}  // namespace

bool finite(const LinearRgbi& p) { return std::isfinite(p.r) && std::isfinite(p.g) && std::isfinite(p.b) && std::isfinite(p.ir); }

Channels channels(const LinearRgbi& p) { return {p.r, p.g, p.b, p.ir}; }

double quantile(std::vector<double>& values, double q) {
    if (values.empty()) return 0;
    const auto at = static_cast<std::ptrdiff_t>(q * static_cast<double>(values.size() - 1) + 0.5);
    std::nth_element(values.begin(), values.begin() + at, values.end());
    return values[static_cast<std::size_t>(at)];
}

Grid make_grid(const Overview& overview, const SheetLayout& layout, double cell_mm) {
    Grid grid;
    double scan_px_per_mm = layout.scale.value();
    if (!(scan_px_per_mm > 0)) scan_px_per_mm = overview.scan_resolution ? overview.scan_resolution->value() : 0;
    if (!(scan_px_per_mm > 0)) scan_px_per_mm = px_per_mm_from_dpi(kAssumedOverviewDpi * overview.factor).value();
    grid.px_per_mm = scan_px_per_mm / overview.factor;
    grid.cell = std::max(2, static_cast<int>(std::lround(cell_mm * grid.px_per_mm)));
    grid.columns = (overview.pixels.width() + grid.cell - 1) / grid.cell;
    grid.rows = (overview.pixels.height() + grid.cell - 1) / grid.cell;
    return grid;
}

std::vector<LightCell> bare_light_cells(const Overview& overview, const RegionMap& regions, const Grid& grid) {
    const Channels noise = relative_noise(overview, regions, Region::bare_light);
    std::vector<LightCell> cells;
    std::vector<double> values;
    for_each_cell(
        overview, grid, [&](std::int64_t x, std::int64_t y) { return regions.labels(x, y) == Region::bare_light; },
        [&](const Members& members) {
            if (static_cast<int>(members.light.size()) < kLightCellPixels) return;
            LightCell cell = place(members, overview);
            for (int c = 0; c < 4; ++c) {
                values.clear();
                for (const LinearRgbi& p : members.light) values.push_back(channels(p)[c]);
                const double level = level_above(values, noise[c]);
                cell.ln_light[c] = safe_log(level);
                cell.clipped |= level >= kFullScale;
            }
            cells.push_back(cell);
        });
    return cells;
}

std::vector<LightCell> clear_film_cells(const Overview& overview, const RegionMap& regions, const Grid& grid, int strip) {
    std::vector<LightCell> cells;
    std::vector<double> values;
    for_each_cell(
        overview, grid, [&](std::int64_t x, std::int64_t y) { return regions.strip(x, y) == strip && regions.labels(x, y) == Region::clear_film; },
        [&](const Members& members) {
            if (static_cast<int>(members.light.size()) < kBaseCellPixels) return;
            LightCell cell = place(members, overview);
            for (int c = 0; c < 4; ++c) {
                values.clear();
                for (const LinearRgbi& p : members.light) values.push_back(channels(p)[c]);
                const double level = quantile(values, 0.5);
                cell.ln_light[c] = safe_log(level);
                cell.clipped |= level >= kFullScale;
            }
            cells.push_back(cell);
        });
    return cells;
}

Channels relative_noise(const Overview& overview, const RegionMap& regions, Region region) {
    std::array<std::vector<double>, 4> differences;
    for (std::int64_t y = 0; y < overview.pixels.height(); y += 2) {
        for (std::int64_t x = 0; x + 2 < overview.pixels.width(); x += 2) {
            if (regions.labels(x, y) != region || regions.labels(x + 2, y) != region) continue;
            const Channels a = channels(overview.pixels(x, y)), b = channels(overview.pixels(x + 2, y));
            for (int c = 0; c < 4; ++c) {
                if (a[c] > 0 && b[c] > 0) differences[c].push_back(std::abs(a[c] - b[c]) / (a[c] + b[c]) * 2);
            }
        }
    }
    Channels noise{};
    for (int c = 0; c < 4; ++c) noise[c] = std::max(1e-4, 1.4826 * quantile(differences[c], 0.5) / std::sqrt(2.0));
    return noise;
}

}  // namespace basefog::density
