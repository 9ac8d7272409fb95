// SPDX-License-Identifier: GPL-3.0-or-later
// Takes dust, fibres, scratches and leftover backing out of a picture. See docs/stages/mend.md.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/mend/options.h"
#include "basefog/mend/types.h"

namespace basefog {

/// Pure, in place: changes colour where the mask says so and nowhere else; infrared is left as it is. `rect` is where the pixels
/// lie on the scan and has their size. Works on about 16 bytes of scratch a pixel. Does nothing when the mode is off, and by
/// infrared nothing on silver.
[[nodiscard]] Mending mend(View<LinearRgbi> pixels, PxRect rect, const DefectMap& map, const MendFacts& facts, const MendOptions& options);

}  // namespace basefog
