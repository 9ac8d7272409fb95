// SPDX-License-Identifier: GPL-3.0-or-later
// The sheet cut into small squares, each with the robust level of the pixels of one kind: thousands of pixels become
// hundreds of nearly independent samples with a known scatter.
#pragma once

#include "basefog/frames/types.h"
#include "basefog/scan/types.h"

#include <array>
#include <vector>

namespace basefog::density {

using Channels = std::array<double, 4>;  ///< r, g, b, ir

struct Grid {
    double px_per_mm = 1;  ///< of the overview
    int cell = 1;          ///< overview pixels a side
    std::int64_t columns = 0, rows = 0;
};
[[nodiscard]] Grid make_grid(const Overview& overview, const SheetLayout& layout, double cell_mm);

struct LightCell {
    double u = 0, v = 0;  ///< mean position, -1..1 over the scan
    double x = 0, y = 0;  ///< the same in overview pixels
    Channels ln_light{};
    int n = 0;
    bool clipped = false;
};

/// Upper level of the bare light in each cell that has enough of it.
[[nodiscard]] std::vector<LightCell> bare_light_cells(const Overview& overview, const RegionMap& regions, const Grid& grid);
/// Median level of one strip's clear film in each cell.
[[nodiscard]] std::vector<LightCell> clear_film_cells(const Overview& overview, const RegionMap& regions, const Grid& grid, int strip);

/// Relative noise of one pixel of the kind, per channel, from neighbouring pixels.
[[nodiscard]] Channels relative_noise(const Overview& overview, const RegionMap& regions, Region region);

[[nodiscard]] bool finite(const LinearRgbi& p);
[[nodiscard]] Channels channels(const LinearRgbi& p);
/// The q-quantile (0..1) of values, which it reorders; 0 for none.
[[nodiscard]] double quantile(std::vector<double>& values, double q);

}  // namespace basefog::density
