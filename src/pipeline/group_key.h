// SPDX-License-Identifier: GPL-3.0-or-later
// What results depend on, as a digest: equal keys and equal scans give equal results.
#pragma once

#include "plan.h"

#include "basefog/invert/inverter.h"

#include <string>
#include <vector>

namespace basefog::pipeline {

/// Of all that is chosen for a run, with the program's version: the same for all its groups. Threads are no part of it, nor where results go.
[[nodiscard]] std::string run_key(const RunOptions& options, const OutputProfile& profile);
/// Of that and all that is told of the group's sheets and their rolls. The content of scans is no part of it.
[[nodiscard]] std::string group_key(const std::string& run_key, const Plan& plan, const std::vector<int>& group, const RunOptions& options);

}  // namespace basefog::pipeline
