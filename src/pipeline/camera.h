// SPDX-License-Identifier: GPL-3.0-or-later
// What a camera's shots of one roll have in common: the lens they were taken with, and whether camera and settings stayed the same.
#pragma once

#include "plan.h"

#include "basefog/core/observer.h"

#include <vector>

namespace basefog::pipeline {

/// Looks at the group's close-ups before they are measured. Tells the lens of each roll from some of its shots and notes it in their scan options, where
/// none was given; what cannot be opened is left to the measuring. Adds findings: `lens-straightened`, `falloff-estimated`, `mixed-cameras`, `mixed-settings`,
/// `light-frame-settings`. Errors: interrupted.
[[nodiscard]] Result<void> prepare_close_ups(Plan& plan, const std::vector<int>& group, const RunOptions& options, std::vector<Finding>& findings,
                                             Observer& observer);

/// What a close-up's overview is to be like, within `wanted`.
[[nodiscard]] OverviewOptions close_up_overview(OverviewOptions wanted);

}  // namespace basefog::pipeline
