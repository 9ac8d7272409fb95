// SPDX-License-Identifier: GPL-3.0-or-later
// The second look at a sheet: every picture frame rendered to its positive, proof and thumbnail.
#pragma once

#include "measure_sheet.h"
#include "outputs.h"

#include "basefog/invert/inverter.h"

#include <map>
#include <tuple>
#include <vector>

namespace basefog::pipeline {

/// Small pictures kept until a roll's contact sheet is composed; key: index of the scan in the run, strip, frame.
using Thumbnails = std::map<std::tuple<int, int, int>, Image<EncodedRgb8>>;

/// Reads the parts of the sheet that hold pictures once more, in as many goes as the memory limit needs, and writes the
/// positives. Fills in the paths in the sheet's record. A read error becomes the scan's `failure`, with what was made kept.
/// Errors: unwritable, interrupted.
[[nodiscard]] Result<void> render_sheet(const Plan& plan, MeasuredSheet& sheet, int scan_index, const std::vector<RollRecord>& rolls,
                                        const OutputProfile& profile, const RunOptions& options, OutputFolder& output, Thumbnails& thumbnails,
                                        Observer& observer);

/// One contact sheet per roll that has pictures. Errors: unwritable.
[[nodiscard]] Result<void> write_contact_sheets(std::vector<RollRecord>& rolls, const std::vector<MeasuredSheet>& sheets, const std::vector<int>& scan_index,
                                                Thumbnails& thumbnails, OutputFolder& output);

}  // namespace basefog::pipeline
