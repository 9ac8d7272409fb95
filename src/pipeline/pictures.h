// SPDX-License-Identifier: GPL-3.0-or-later
// The sheet as the report shows it.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/result.h"
#include "basefog/residue/types.h"
#include "basefog/scan/types.h"

#include <string>

namespace basefog::pipeline {

/// The overview as a JPEG for the screen, at most `long_side` pixels.
[[nodiscard]] Result<std::string> overview_jpeg(const Overview& overview, int long_side);
/// What was found on the film as a translucent PNG of the same shape; empty when there is nothing.
[[nodiscard]] Result<std::string> residue_png(const SheetResidue& residue, int long_side);

/// The defects within a frame, turned as the picture is read, for laying over its proof: backing in diagonal lines, dust and fibres filled,
/// scratches in upright lines, so that the kinds are told without their colours. `corners` in scan pixels; `factor`: scan pixels per pixel
/// of `defects`. Empty when there are none.
[[nodiscard]] Result<std::string> frame_defects_png(const Image<Defect>& defects, const Quad& corners, int factor);

}  // namespace basefog::pipeline
