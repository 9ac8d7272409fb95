// SPDX-License-Identifier: GPL-3.0-or-later
// What is pooled over a roll, on whichever sheets its strips lie.
#pragma once

#include "measure_sheet.h"

#include <vector>

namespace basefog::pipeline {

/// Gathers the rolls of a group of sheets (all the sheets any of them lies on), fits each, and hands every frame its exposure.
/// `first_scan` is the index that sheets[0] has in RunRecord::scans; the FrameRefs count from there. Takes the samples.
[[nodiscard]] Result<std::vector<RollRecord>> pool_rolls(std::vector<MeasuredSheet>& sheets, const std::vector<int>& scan_index, const RunOptions& options,
                                                         std::vector<Finding>& findings, Observer& observer);

}  // namespace basefog::pipeline
