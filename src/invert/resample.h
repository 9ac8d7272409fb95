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
    /// `rect`: the part of the scan that is there; positions outside repeat its edge.
    Resampler(PxRect rect, const Quad& corners, PositiveSize size);

    /// Columns and rows of the positive done at a time; any grouping gives the same values.
    static constexpr std::int64_t kColumns = 128, kRows = 64;

    /// Turns to columns [x0, x0 + columns) and rows [y0, y0 + rows); returns the part of the scan they need.
    [[nodiscard]] PxRect turn_to(std::int64_t x0, std::int64_t columns, std::int64_t y0, std::int64_t rows);
    /// Interpolates those columns at the rows that `row` calls need; `pixels` are of the part that `turn_to` returned.
    void prepare(View<const LinearRgbi> pixels);
    /// One row of the prepared block, channels apart.
    void row(std::int64_t y, float* r, float* g, float* b) const;

private:
    /// Coordinates within the rect (i along, j across) of columns: j = start + rise * v, i = along + slope * j. Each apart from the others, as loops
    /// over columns want them.
    struct Columns {
        std::vector<double> start, rise, along, slope;
    };
    void prepare_row(std::int64_t k, View<const LinearRgbi> pixels);
    PxRect rect_;
    PositiveSize size_;
    bool sideways_ = false;
    std::int64_t length_ = 0, depth_ = 0;  ///< of the rect, along i and j
    Columns all_;
    std::int64_t columns_ = 0, taps_ = 0;       ///< of the block; `taps_`: prepared rows of it
    std::int64_t window_i_ = 0, window_j_ = 0;  ///< first of the block's part
    std::int64_t x0_ = 0, stride_ = 0;          ///< the block's first column; pixels from one prepared row to the next
    std::vector<std::int32_t> first_;           ///< of the block's columns: lowest prepared j
    std::vector<LinearRgbi> between_;           ///< prepared rows x columns
};

}  // namespace basefog::invert
