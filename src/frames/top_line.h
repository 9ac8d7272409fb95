// SPDX-License-Identifier: GPL-3.0-or-later
// The pictures' upper edge, from all frames of a strip together.
#pragma once

#include "chain.h"

namespace basefog::frames {

/// Upper edge of the pictures as a line at0 + slope u.
struct TopLine {
    double at0 = 0, slope = 0;
    double evidence = 0;
};
[[nodiscard]] TopLine find_top(const StripCells& cells, const StripPlace& place, const Chain& chain, double dirty, const Gauge& gauge);

}  // namespace basefog::frames
