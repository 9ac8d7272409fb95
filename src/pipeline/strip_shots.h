// SPDX-License-Identifier: GPL-3.0-or-later
// A camera's shots of strips: of several frames each, or overlapping ones that are joined.
#pragma once

#include "plan.h"

#include "basefog/core/observer.h"

#include <vector>

namespace basefog::pipeline {

/// Looks at the group's shots of strips before they are measured: tells the lens, and of overlapping shots how they lie, and notes both in their scan options.
/// What cannot be joined gets SheetPlan::unusable. Adds findings: `lens-straightened`, `falloff-estimated`, `mixed-settings`, `light-frame-settings`,
/// `shots-without-light-frame`, `shots-scale-differs`, `join-uncertain`, `join-by-picture-alone`. Errors: interrupted.
[[nodiscard]] Result<void> prepare_strips(Plan& plan, const std::vector<int>& group, const RunOptions& options, std::vector<Finding>& findings,
                                          Observer& observer);

/// Takes out frames that a shot's border cuts, as they are whole on another or on none, and says so; compares their number with what was told.
void keep_whole_frames(SheetLayout& layout, const SheetPlan& plan, const Overview& overview, std::vector<Finding>& findings);

/// What joining found, in millimetres of film.
[[nodiscard]] std::vector<ShotRecord> shot_records(const SheetPlan& plan, PixelsPerMm scale);

}  // namespace basefog::pipeline
