// SPDX-License-Identifier: GPL-3.0-or-later
// Residue inside pictures without infrared: what a stock's dyes do not explain.
#pragma once

#include "residue/grade.h"

#include <vector>

namespace basefog::residue {

/// alike[i][j]: strips i and j are the same film, as far as is known.
using Alike = std::vector<std::vector<bool>>;

/// On strips told by colour that carry residue on their clear film, marks as `likely` the pictures' pixels whose density exceeds most
/// what the dyes explain: as large a share of the pictures as of the clear film. The dyes are learnt from the cleanest strip of the
/// same film; where there is none, nothing is marked. Where anything was marked, true.
[[nodiscard]] std::vector<bool> mark_likely_residue(std::vector<StripEvidence>& strips, const Alike& alike, double threshold);

}  // namespace basefog::residue
