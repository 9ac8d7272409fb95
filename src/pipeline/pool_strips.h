// SPDX-License-Identifier: GPL-3.0-or-later
// A roll's strips, wherever they lie, taken together: base, noise, residue.
#pragma once

#include "measure_sheet.h"

#include <vector>

namespace basefog::pipeline {

/// One strip of a roll: which sheet of the group, which strip on it.
struct StripRef {
    int sheet = 0, strip = 0;
};
/// Fills what is pooled over the strips into the roll's record.
void pool_strips(RollRecord& record, const std::vector<StripRef>& strips, const std::vector<MeasuredSheet>& sheets);

}  // namespace basefog::pipeline
