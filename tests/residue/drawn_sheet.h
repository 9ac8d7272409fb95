// SPDX-License-Identifier: GPL-3.0-or-later
// Invented sheets with backing, dust and scratches on them, measured by the library from their light to their residue.
#pragma once

#include "basefog/density/types.h"
#include "basefog/frames/types.h"
#include "basefog/residue/types.h"
#include "basefog/scan/types.h"
#include "support/synthetic_film.h"

#include <cstdint>

namespace drawn_sheet {

/// Four strips, one of each grade in a random order, on four stocks or on one, by one of three scanners; dust, fibres and
/// scratches over all. Same seed and numbers, same sheet.
[[nodiscard]] synthetic::SheetSpec dirty_sheet(std::uint64_t seed, bool infrared, int frames = 3, double dpi = 300);

struct Measured {
    synthetic::Sheet sheet;
    basefog::Overview overview;
    basefog::SheetLayout layout;
    basefog::RegionMap regions;
    basefog::SheetDensity density;
    basefog::SheetResidue residue;
};
/// Throws std::runtime_error where a stage fails. `factor`: scan pixels to an overview pixel.
[[nodiscard]] Measured measure(const synthetic::SheetSpec& spec, int factor = 1);

}  // namespace drawn_sheet
