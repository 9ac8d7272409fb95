// SPDX-License-Identifier: GPL-3.0-or-later
// Which found frame is which frame of the truth.
#pragma once

#include "basefog/core/units.h"
#include "basefog/frames/types.h"
#include "frame_suite/outcome.h"
#include "support/synthetic_film.h"

namespace basefog::suite {

/// Distance of a found frame's worst corner from the truth, in pixels. Corners are compared as places: the order they come in
/// (a strip that lies turned or mirrored) does not matter. A corner that the strip's end or the scan's border cuts off may be
/// given where the gate had it or where the film or the scan ends.
[[nodiscard]] double corner_error_px(const Quad& found, const synthetic::FrameTruth& truth, double width, double height);

/// Fills the outcome's frames and strays. `width` and `height` are the scan's; `px_per_mm` its true scale.
void match(const SheetLayout& layout, const synthetic::Sheet& sheet, double width, double height, double px_per_mm, SheetOutcome& outcome);

}  // namespace basefog::suite
