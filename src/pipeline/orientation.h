// SPDX-License-Identifier: GPL-3.0-or-later
// Which way round each strip lies: told by the ledger, else by the print on its edges; never guessed.
#pragma once

#include "plan.h"

namespace basefog::pipeline {

/// Turns and mirrors strips so that frames are read as they were taken. What the ledger says outright holds, else figures in the strips'
/// `edge_print`; where the two differ, or strips of one roll lie differently and nothing says which is right, that is a finding.
void orient_strips(const SheetPlan& plan, SheetLayout& layout, std::vector<Finding>& findings);

}  // namespace basefog::pipeline
