// SPDX-License-Identifier: GPL-3.0-or-later
// The finder's findings in plain words.
#pragma once

#include "basefog/frames/types.h"

namespace basefog::frames {

/// Where the scale came from, if not from the file; `stated` in pixels per mm of the full scan, 0 for none.
void say_scale(SheetLayout& layout, double stated, bool file_states);
/// What is doubtful or out of the ordinary about strips and frames.
void say_strips(SheetLayout& layout);

}  // namespace basefog::frames
