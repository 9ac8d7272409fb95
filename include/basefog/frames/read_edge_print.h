// SPDX-License-Identifier: GPL-3.0-or-later
// Reads what the manufacturer printed along the film's edges, to tell how a strip lies. See docs/stages/frames.md.
#pragma once

#include "basefog/frames/types.h"
#include "basefog/scan/types.h"

namespace basefog {

/// Looks along both edges of a strip, outside the perforations. Pure. Where the edges are hidden, or nothing can be
/// read with certainty, the print's kind is none: an orientation is never guessed.
[[nodiscard]] EdgePrint read_edge_print(const Overview& overview, const StripBox& strip, PixelsPerMm scale);

}  // namespace basefog
