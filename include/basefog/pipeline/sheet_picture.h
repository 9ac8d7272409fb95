// SPDX-License-Identifier: GPL-3.0-or-later
// A look at a scan of a run: for the screen, measured by nobody.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/pipeline/run.h"

namespace basefog {

/// A part of the scan that the run names `file`, as scanned, as an sRGB JPEG whose longer side is at most so many pixels and never
/// more than the scan's own. Errors: usage (no such scan, no part of it), those of opening and reading it.
[[nodiscard]] Result<std::string> sheet_picture(const RunOptions& options, const std::string& file, PxRect part, int long_side, Observer& observer);

}  // namespace basefog
