// SPDX-License-Identifier: GPL-3.0-or-later
// A camera's close look at one frame: no sheet, no strip's end, often no perforation, and no resolution that means anything.
#pragma once

#include "basefog/frames/options.h"
#include "basefog/frames/types.h"
#include "basefog/scan/types.h"

namespace basefog::frames {

/// The one frame that fills most of the picture, with film around it on two opposite sides at least. Its edges are found as four lines, each by
/// evidence from all along it, that together have a gate's proportions; they tell the scale. An empty layout where there is none.
[[nodiscard]] SheetLayout find_close_up(const Overview& overview, const FindOptions& options);

}  // namespace basefog::frames
