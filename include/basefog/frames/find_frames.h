// SPDX-License-Identifier: GPL-3.0-or-later
// Finds strips and frames on a sheet. See docs/stages/frames.md for the model.
#pragma once

#include "basefog/core/for_each.h"
#include "basefog/core/result.h"
#include "basefog/frames/options.h"
#include "basefog/frames/types.h"
#include "basefog/scan/types.h"

namespace basefog {

/// Pure: same overview and options, same layout. A sheet without film gives an empty layout and a finding.
/// `for_each`: strips are fitted side by side; the result does not depend on it.
/// Errors: usage (options out of range), malformed (the overview is too small to hold any film).
[[nodiscard]] Result<SheetLayout> find_frames(const Overview& overview, const FindOptions& options, const ForEach& for_each = {});

/// Names what each overview pixel shows, for any layout: found or by hand.
[[nodiscard]] RegionMap label_regions(const Overview& overview, const SheetLayout& layout, const FindOptions& options);

}  // namespace basefog
