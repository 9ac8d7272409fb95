// SPDX-License-Identifier: GPL-3.0-or-later
// The first look at a sheet: everything that is measured on its overview.
#pragma once

#include "input_files.h"
#include "plan.h"

#include "basefog/invert/types.h"

#include <vector>

namespace basefog::pipeline {

/// What stays of a sheet when its overview is gone.
struct MeasuredSheet {
    int plan = 0;       ///< index into Plan::sheets
    ScanRecord record;  ///< complete but for what comes from its rolls and positives
    LightField light;
    Image<Defect> defects;                           ///< overview size; kept for mending
    int overview_factor = 1;
    std::optional<InfraredModel> infrared;
    std::vector<std::optional<FileStamp>> stamps;    ///< of the sheet's files when they were first read
    std::vector<std::vector<FrameSamples>> samples;  ///< per strip, per frame
};

/// Where a sheet's maps go, relative and absolute; empty: none is written.
struct MapPlace {
    std::string relative, absolute;
};

/// Reads the sheet once, finds and measures. Writes the defect map. A file that cannot be used gives a record with `failure`.
/// Errors: unwritable, interrupted.
[[nodiscard]] Result<MeasuredSheet> measure_sheet(const Plan& plan, int index, const RunOptions& options, const MapPlace& map, std::vector<Finding>& findings,
                                                  Observer& observer);

}  // namespace basefog::pipeline
