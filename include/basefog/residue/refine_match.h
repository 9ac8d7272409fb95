// SPDX-License-Identifier: GPL-3.0-or-later
// How infrared lies against the colours on one picture, told at the scan's own resolution. See docs/stages/residue.md.
#pragma once

#include "basefog/core/for_each.h"
#include "basefog/core/pixel_source.h"
#include "basefog/residue/types.h"

namespace basefog {

/// The match of the sheet, told on its overview, with the shift corrected by what blocks both on this picture (dust, carbon): shift and its
/// uncertainty in scan pixels. Unchanged where the sheet's was not told (`places` 0), where too little blocks both here, or where what is found
/// contradicts the sheet's beyond its uncertainty. The result does not depend on `for_each`. Errors: the picture's.
[[nodiscard]] Result<InfraredMatch> refine_match(const PixelSource& picture, const InfraredMatch& of_sheet, const ForEach& for_each);

}  // namespace basefog
