// SPDX-License-Identifier: GPL-3.0-or-later
// With infrared: what lies on the film, pixel by pixel, and what it hides divided out.
#pragma once

#include "basefog/mend/mend.h"
#include "mend/infrared_density.h"
#include "mend/patches.h"
#include "mend/plane.h"
#include "mend/told.h"

namespace basefog::mending {

struct Neutral {
    NeutralDensity density;
    float noise = 0;  ///< of a smoothed pixel
};
/// Errors of these: the source's and the scratch's.
[[nodiscard]] Result<Neutral> neutral_of(const PixelSource& source, const Tiles& tiles, const MendFacts& facts, const MendMeans& means);

/// Sets marks and divided pixels of every tile.
[[nodiscard]] Result<Told> tell_by_infrared(const PixelSource& source, const Tiles& tiles, const Neutral& neutral, const MendFacts& facts, Plane<uchar>& marks,
                                            Patches& divided, const MendMeans& means);

/// Divided pixels of `mended`, which is divided and filled, without the noise that dividing has added.
[[nodiscard]] Result<void> quieten_tiles(const PixelSource& mended, const Tiles& tiles, const Neutral& neutral, const Plane<uchar>& marks, const Runs& hole,
                                         const MendFacts& facts, Patches& quiet, const MendMeans& means);

}  // namespace basefog::mending
