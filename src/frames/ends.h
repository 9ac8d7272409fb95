// SPDX-License-Identifier: GPL-3.0-or-later
// The pictures' ends along the strip: seen edges, one gate's width, and the advance, together.
#pragma once

#include "edges.h"
#include "fit.h"

namespace basefog::frames {

struct FrameEdges {
    EdgeFit left, right;
};
[[nodiscard]] std::vector<FrameEdges> look_at_ends(const Overview& overview, const SheetLight& light, const StripFit& fit, double guard);

/// A frame that alone breaks an even advance was placed by a line in the picture, or by the inner edge of a black bar along one end. Where the advance puts it,
/// one of its ends has to show; then it goes there. True: some did, and ends must be looked at again.
[[nodiscard]] bool return_strays(StripFit& fit, const Overview& overview, const SheetLight& light, double guard);

/// Frame starts and the camera's one width, with their uncertainties.
void solve_starts(StripFit& fit, std::vector<FrameEdges> edges);

}  // namespace basefog::frames
