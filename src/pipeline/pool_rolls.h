// SPDX-License-Identifier: GPL-3.0-or-later
// What is pooled over a roll, and over the rolls of a stock, on whichever sheets its strips lie.
#pragma once

#include "measure_sheet.h"

#include <vector>

namespace basefog::pipeline {

/// Everything known of a roll before it is measured: by the ledger, and by earlier rolls of its stock. `now`: all rolls being measured.
[[nodiscard]] RollRecord told_of_roll(const std::string& id, const std::vector<std::string>& now, const RunOptions& options, std::vector<Finding>& findings);

struct PooledRolls {
    std::vector<RollRecord> rolls;
    std::vector<StockComparison> comparisons;
};
/// Gathers the rolls of a group of sheets (all the sheets any of them lies on), fits those of a stock together, and hands every frame its
/// exposure. `scan_index`: each sheet's place in RunRecord::scans. Takes the samples.
[[nodiscard]] Result<PooledRolls> pool_rolls(std::vector<MeasuredSheet>& sheets, const std::vector<int>& scan_index, const RunOptions& options,
                                             std::vector<Finding>& findings, Observer& observer);

}  // namespace basefog::pipeline
