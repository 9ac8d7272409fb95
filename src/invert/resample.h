// SPDX-License-Identifier: GPL-3.0-or-later
// One resampling of a scan along a frame's quad: two passes of a windowed sinc, one along each side of the picture.
//
// Column u of the positive crosses the scan along a line; on it each scan row y is met at one x. The first pass interpolates every
// column along x at the rows it needs, the second along y. For any quad this is exact bilinear geometry, 12 taps instead of 36, and a
// value depends on its own place only, so rows may be rendered in any portions. Where the picture lies on its side, x and y change roles.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/invert/types.h"

#include <cstdint>
#include <vector>

namespace basefog::invert {

class Resampler {
public:
    /// `size` is the positive's; its width and height at least 1.
    Resampler(const Crop& crop, const Quad& corners, PositiveSize size);

    /// Columns and rows of the positive done at a time; any grouping gives the same values.
    static constexpr std::int64_t kColumns = 128, kRows = 64;

    /// Interpolates columns [x0, x0 + columns) at the rows a later `row` call for y in [y0, y0 + rows) needs.
    void prepare(std::int64_t x0, std::int64_t columns, std::int64_t y0, std::int64_t rows);
    /// One row of the prepared block, channels apart.
    void row(std::int64_t y, float* r, float* g, float* b) const;

private:
    /// Crop coordinates (i along, j across) of a column: j = start + rise * v, i = along + slope * j.
    struct Column {
        double start = 0, rise = 0, along = 0, slope = 0;
        std::int64_t first = 0;  ///< lowest prepared j
    };
    void first_pass(std::int64_t taps);

    const Crop& crop_;
    PositiveSize size_;
    bool sideways_ = false;
    std::int64_t length_ = 0, depth_ = 0;   ///< of the crop, along i and j
    std::int64_t step_i_ = 1, step_j_ = 1;  ///< pixels from one to the next
    std::vector<Column> all_;
    std::int64_t x0_ = 0, columns_ = 0;
    std::vector<Column> block_;
    std::vector<LinearRgbi> between_;  ///< prepared rows x columns
};

}  // namespace basefog::invert
