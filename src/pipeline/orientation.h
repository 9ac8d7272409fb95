// SPDX-License-Identifier: GPL-3.0-or-later
// Which way round each strip lies: told by the ledger, else by the print on its edges; never guessed.
#pragma once

#include "plan.h"

#include "basefog/scan/types.h"

namespace basefog::pipeline {

/// Reads the strips' edge print, then turns and mirrors strips so that frames are read as they were taken. What the ledger says
/// outright holds; where print contradicts it, or strips of one roll lie differently and nothing says which is right, that is a finding.
void orient_strips(const SheetPlan& plan, const Overview& overview, SheetLayout& layout, std::vector<Finding>& findings);

}  // namespace basefog::pipeline
