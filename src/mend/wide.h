// SPDX-License-Identifier: GPL-3.0-or-later
// Holes wider than can be filled.
#pragma once

#include "basefog/mend/mend.h"
#include "mend/runs.h"
#include "mend/tiles.h"
#include "mend/told.h"

namespace basefog::mending {

enum class Wide {
    its_middle,  ///< only what is too wide is spared
    all_of_it,   ///< and all that hangs together with it
};
/// Takes out of `hole` what is wider than can be filled.
[[nodiscard]] Result<Told> spare_wide(Runs hole, const Tiles& tiles, double px_per_mm, Wide wide, const MendMeans& means);

}  // namespace basefog::mending
