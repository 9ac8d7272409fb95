// SPDX-License-Identifier: GPL-3.0-or-later
// Lens and lamp spread a little of each bright place over its surroundings. On opaque holder parts this shows as light
// that rises and falls with the brightness around: light = a + k * (surroundings blurred). The rise k, read there, gives
// the stray light on film; the constant a is what the holder itself passes, and only its implausible part counts.
#include "density/flare.h"

#include "density/constants.h"

#include <algorithm>
#include <cmath>

namespace basefog::density {

namespace {

/// Reach of the glare tried, millimetres. Chosen: from a few times the lens blur to the width of a strip.
constexpr std::array<double, 4> kReachMm{4, 8, 16, 32};
/// A rise counts when it is this many times its own uncertainty.
constexpr double kRiseSigmas = 4;
constexpr int kLeastCells = 20;

struct CellSums {
    Channels light{};
    bool holder = false, film = false;
};

std::vector<CellSums> gather(const Overview& overview, const RegionMap& regions, const Grid& grid) {
    std::vector<CellSums> cells(static_cast<std::size_t>(grid.columns * grid.rows));
    for (std::int64_t i = 0; i < grid.columns * grid.rows; ++i) {
        CellSums& cell = cells[static_cast<std::size_t>(i)];
        const std::int64_t x0 = i % grid.columns * grid.cell, y0 = i / grid.columns * grid.cell;
        int n = 0, holder = 0, film = 0;
        for (std::int64_t y = y0; y < std::min(overview.pixels.height(), y0 + grid.cell); ++y) {
            for (std::int64_t x = x0; x < std::min(overview.pixels.width(), x0 + grid.cell); ++x) {
                if (!finite(overview.pixels(x, y))) continue;
                const Channels light = channels(overview.pixels(x, y));
                for (int c = 0; c < 4; ++c) cell.light[c] += light[c];
                ++n;
                holder += regions.labels(x, y) == Region::holder;
                film += regions.strip(x, y) >= 0;
            }
        }
        for (int c = 0; c < 4; ++c) cell.light[c] /= std::max(1, n);
        cell.holder = n > 0 && holder == n;
        cell.film = film * 2 > n;
    }
    return cells;
}

/// Holder cells all of whose surroundings are holder too.
std::vector<bool> quiet_cells(const std::vector<CellSums>& cells, const Grid& grid) {
    const auto reach = static_cast<std::int64_t>(std::ceil(kHolderClearMm * grid.px_per_mm / grid.cell));
    std::vector<bool> quiet(cells.size());
    for (std::int64_t y = 0; y < grid.rows; ++y) {
        for (std::int64_t x = 0; x < grid.columns; ++x) {
            bool all = true;
            for (std::int64_t j = std::max<std::int64_t>(0, y - reach); all && j <= std::min(grid.rows - 1, y + reach); ++j) {
                for (std::int64_t i = std::max<std::int64_t>(0, x - reach); all && i <= std::min(grid.columns - 1, x + reach); ++i) {
                    all = cells[static_cast<std::size_t>(j * grid.columns + i)].holder;
                }
            }
            quiet[static_cast<std::size_t>(y * grid.columns + x)] = all;
        }
    }
    return quiet;
}

/// Gaussian blur of one channel of the cell grid; beyond the sheet it is dark.
std::vector<double> blurred(const std::vector<CellSums>& cells, const Grid& grid, int channel, double sigma) {
    const auto reach = static_cast<std::int64_t>(std::ceil(3 * sigma));
    std::vector<double> kernel;
    double sum = 0;
    for (std::int64_t k = -reach; k <= reach; ++k) {
        kernel.push_back(std::exp(-0.5 * static_cast<double>(k * k) / (sigma * sigma)));
        sum += kernel.back();
    }
    std::vector<double> across(cells.size()), result(cells.size());
    const auto pass = [&](const auto& get, std::vector<double>& out, std::int64_t dx, std::int64_t dy) {
        for (std::int64_t y = 0; y < grid.rows; ++y) {
            for (std::int64_t x = 0; x < grid.columns; ++x) {
                double total = 0;
                for (std::int64_t k = -reach; k <= reach; ++k) {
                    const std::int64_t i = x + k * dx, j = y + k * dy;
                    if (i < 0 || j < 0 || i >= grid.columns || j >= grid.rows) continue;
                    total += kernel[static_cast<std::size_t>(k + reach)] * get(static_cast<std::size_t>(j * grid.columns + i));
                }
                out[static_cast<std::size_t>(y * grid.columns + x)] = total / sum;
            }
        }
    };
    pass([&](std::size_t i) { return cells[i].light[channel]; }, across, 1, 0);
    pass([&](std::size_t i) { return across[i]; }, result, 0, 1);
    return result;
}

struct Line {
    double constant = 0, rise = 0, rise_std = 0, residual = 0;
};

Line fit_line(const std::vector<double>& x, const std::vector<double>& y) {
    const double n = static_cast<double>(x.size());
    double mx = 0, my = 0, xx = 0, xy = 0, rr = 0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        mx += x[i] / n;
        my += y[i] / n;
    }
    for (std::size_t i = 0; i < x.size(); ++i) {
        xx += (x[i] - mx) * (x[i] - mx);
        xy += (x[i] - mx) * (y[i] - my);
    }
    Line line;
    line.rise = xx > 0 ? xy / xx : 0;
    line.constant = my - line.rise * mx;
    for (std::size_t i = 0; i < x.size(); ++i) rr += std::pow(y[i] - line.constant - line.rise * x[i], 2);
    line.residual = rr / std::max(1.0, n - 2);
    line.rise_std = xx > 0 ? std::sqrt(line.residual / xx) : 0;
    return line;
}

void estimate_channel(Flare& flare, const std::vector<CellSums>& cells, const std::vector<bool>& quiet, const Grid& grid, int c, double bright) {
    Line best;
    best.residual = 1e9;
    double on_film = 0;
    for (const double reach : kReachMm) {
        const std::vector<double> around = blurred(cells, grid, c, reach * grid.px_per_mm / grid.cell);
        std::vector<double> x, y;
        double film = 0, film_n = 0;
        for (std::size_t i = 0; i < cells.size(); ++i) {
            if (quiet[i]) {
                x.push_back(around[i]);
                y.push_back(cells[i].light[c]);
            } else if (cells[i].film) {
                film += around[i];
                ++film_n;
            }
        }
        const Line line = fit_line(x, y);
        if (line.residual < best.residual) {
            best = line;
            on_film = film_n > 0 ? film / film_n : 0;
        }
    }
    const bool rises = best.rise > kRiseSigmas * best.rise_std;
    const double glare = rises ? best.rise * on_film : 0;
    const double excess = std::max(0.0, best.constant - kHolderTransmittance * bright);
    flare.film[c] = std::clamp(glare + excess, 0.0, kMostFlare * bright);
    // How the glare varies over the film and beyond the holder is not known better than by half.
    flare.std_uncertainty[c] = 0.5 * flare.film[c] + 0.5 * 4e-4 * bright * (rises ? 0 : 1);
}

}  // namespace

Flare estimate_flare(const Overview& overview, const RegionMap& regions, const Grid& grid, const Channels& bright) {
    Flare flare;
    const std::vector<CellSums> cells = gather(overview, regions, grid);
    const std::vector<bool> quiet = quiet_cells(cells, grid);
    if (std::count(quiet.begin(), quiet.end(), true) < kLeastCells) {
        for (int c = 0; c < 4; ++c) flare.std_uncertainty[c] = kUnseenFlareStd * bright[c];
        return flare;
    }
    flare.measured = true;
    for (int c = 0; c < (overview.has_infrared ? 4 : 3); ++c) estimate_channel(flare, cells, quiet, grid, c, bright[c]);
    double sum = 0, n = 0;
    for (std::size_t i = 0; i < cells.size(); ++i) {
        if (!quiet[i]) continue;
        sum += cells[i].light[1];
        ++n;
    }
    flare.holder_density = -std::log10(std::max(1e-5, sum / n / std::max(1e-6, bright[1])));
    return flare;
}

}  // namespace basefog::density
