// SPDX-License-Identifier: GPL-3.0-or-later
// Light that reached the film past the gate: a leak across gap and rebate, a leader loaded in daylight.
#pragma once

#include "evidence.h"

namespace basefog::frames {

/// Measures, column by column, what stands above base on the rebate along both long edges of the pictures, and makes it part of
/// the base: a gate's edge is a step there as well. `rows.at0`, `rows.slope`: the pictures' upper edge.
void measure_fog(StripCells& cells, const Rows& rows, double height);

}  // namespace basefog::frames
