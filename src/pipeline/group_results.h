// SPDX-License-Identifier: GPL-3.0-or-later
// What a group of sheets contributes to a run's record.
#pragma once

#include "archive.h"

#include <vector>

namespace basefog::pipeline {

struct GroupResults {
    std::vector<Finding> findings;
    std::vector<ScanRecord> scans;  ///< as in the group
    std::vector<RollRecord> rolls;  ///< their frames' scans are indices into the run's
    std::vector<StockComparison> comparisons;
};
void fields_of(Is<GroupResults> auto& v, auto& visit) {
    auto& [findings, scans, rolls, comparisons] = v;
    visit(findings, scans, rolls, comparisons);
}

}  // namespace basefog::pipeline
