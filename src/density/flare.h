// SPDX-License-Identifier: GPL-3.0-or-later
// Stray light, read off the holder's opaque parts.
#pragma once

#include "density/cells.h"

namespace basefog::density {

struct Flare {
    Channels film{};  ///< stray light to be expected on film
    Channels std_uncertainty{};
    double holder_density = 0;  ///< of the holder's parts, green; 0 when none is in view
    bool measured = false;
};
/// `bright`: level of bare light (or the clearest film) per channel.
[[nodiscard]] Flare estimate_flare(const Overview& overview, const RegionMap& regions, const Grid& grid, const Channels& bright);

}  // namespace basefog::density
