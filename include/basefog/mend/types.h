// SPDX-License-Identifier: GPL-3.0-or-later
// What mending needs to know of a strip, and what it did to a picture.
#pragma once

#include "basefog/core/image.h"
#include "basefog/core/units.h"
#include "basefog/density/types.h"
#include "basefog/residue/types.h"

#include <cstdint>
#include <optional>

namespace basefog {

/// Values of the mask beside a positive.
enum class Mended : std::uint8_t {
    untouched = 0,
    divided = 128,  ///< the defect's own density was taken off what came through it
    filled = 255,   ///< nothing usable came through: taken from the surroundings
};

/// Of the strip a picture lies on.
struct MendFacts {
    LightField light;
    Rgb<Density> base;  ///< as measured, without the veil
    Density base_infrared{};
    Density veil{};                         ///< the even part; stays, as the base under the pictures has it too
    bool silver = false;                    ///< silver is opaque in infrared: never mended by it
    bool residue_left = false;              ///< the strip carries residue: smooth smears are divided out too
    std::optional<InfraredModel> infrared;  ///< nullopt: only what the sheet's map marks
    PixelsPerMm scale{};                    ///< of the full scan
};

/// The residue stage's map; an overview pixel covers `factor` x `factor` pixels of the scan.
struct DefectMap {
    View<const Defect> defects;
    int factor = 1;
};

struct MendCounts {
    std::int64_t divided = 0, filled = 0;  ///< pixels
    int places = 0;                        ///< fills
    std::int64_t beyond = 0;               ///< pixels of defects too wide to fill: divided as well as their light allows
};

struct Mending : MendCounts {
    Image<Mended> mask;  ///< the picture's size; empty where nothing was mended
};

}  // namespace basefog
