// SPDX-License-Identifier: GPL-3.0-or-later
// Where the infrared picture lies against the colours, told from whatever blocks both: holder, perforations, film ends, dust, carbon.
#pragma once

#include "basefog/residue/types.h"
#include "basefog/scan/types.h"

namespace basefog::residue {

/// In full-scan pixels. Too few edges to tell: no shift, `places` 0.
[[nodiscard]] InfraredMatch match_infrared(const Overview& overview);

/// Infrared light of an overview pixel, taken from where the match says it lies, and as sharp as the colours.
[[nodiscard]] float matched_infrared(const Overview& overview, const InfraredMatch& match, std::int64_t x, std::int64_t y);

}  // namespace basefog::residue
