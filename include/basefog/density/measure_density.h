// SPDX-License-Identifier: GPL-3.0-or-later
// From light on the sensor to density, and each strip's base. See docs/stages/density.md.
#pragma once

#include "basefog/core/result.h"
#include "basefog/density/options.h"
#include "basefog/density/types.h"
#include "basefog/frames/types.h"
#include "basefog/scan/types.h"

namespace basefog {

/// Pure. Without bare light the densities are relative to the clearest film (flagged, with a finding).
[[nodiscard]] Result<SheetDensity> measure_density(const Overview& overview, const SheetLayout& layout, const RegionMap& regions, const DensityOptions& options);

}  // namespace basefog
