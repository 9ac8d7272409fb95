// SPDX-License-Identifier: GPL-3.0-or-later
// Finds what lies on the film and is not picture. See docs/stages/residue.md.
#pragma once

#include "basefog/core/for_each.h"
#include "basefog/core/result.h"
#include "basefog/density/types.h"
#include "basefog/frames/types.h"
#include "basefog/residue/options.h"
#include "basefog/residue/types.h"
#include "basefog/scan/types.h"

namespace basefog {

/// Pure. With infrared: by its opacity there, the dyes' own small infrared density removed. Without: by neutral excess
/// density on clear film and, with less certainty, inside pictures.
/// `for_each`: strips are measured side by side; the result does not depend on it.
[[nodiscard]] Result<SheetResidue> measure_residue(const Overview& overview, const SheetLayout& layout, const RegionMap& regions, const SheetDensity& density,
                                                   const ResidueOptions& options, const ForEach& for_each = {});

}  // namespace basefog
