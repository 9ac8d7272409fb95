// SPDX-License-Identifier: GPL-3.0-or-later
// Pixels of a sensor that always give the same, whatever falls on them.
#pragma once

#include <array>
#include <cstdint>

namespace basefog::scan {

/// A sensor's codes behind a mosaic that repeats every second row and column.
struct Mosaic {
    std::uint16_t* first = nullptr;
    std::int64_t width = 0, height = 0, stride = 0;  ///< in samples
    std::array<double, 4> black{};                   ///< of the mosaic's places: (0, 0), (1, 0), (0, 1), (1, 1) as x, y
    double range = 65535;                            ///< from black to saturation
};

/// Gives every stuck pixel the median of the nearest of its colour, in place; returns how many. Stuck is what stands out from all eight nearest of its
/// own colour by a quarter and by 1.5 % of the range, while the pixels of other colours beside it do not: a lens puts no point of light on one pixel
/// alone. Two stuck pixels of one colour side by side are left; so is a margin of three pixels.
std::int64_t mend_bad_pixels(const Mosaic& mosaic);

}  // namespace basefog::scan
