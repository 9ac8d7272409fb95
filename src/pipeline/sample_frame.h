// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/density/types.h"
#include "basefog/film/types.h"
#include "basefog/frames/types.h"
#include "basefog/residue/types.h"

namespace basefog::pipeline {

/// What lies under a strip's pictures: its base, and the even veil of leftover backing where it could be told from the base.
[[nodiscard]] Rgb<Density> under_pictures(const StripBase& base, const StripResidue& residue);

/// Lays the grid of 0.1 mm spots over a frame and averages the overview's density in each, less `under` (infrared: less the strip's base).
/// A spot that any defect touches, or that lies outside the scan, is marked unusable. `factor`: scan pixels per
/// overview pixel; `scale`: of the full scan.
[[nodiscard]] FrameSamples sample_frame(const Image<DensityRgbi>& density, const Image<Defect>& defects, const FrameBox& frame, const Rgb<Density>& under,
                                        Density under_ir, int factor, PixelsPerMm scale);

}  // namespace basefog::pipeline
