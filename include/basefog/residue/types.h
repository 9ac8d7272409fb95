// SPDX-License-Identifier: GPL-3.0-or-later
// Leftover carbon backing, dust, fibres and scratches on a sheet.
#pragma once

#include "basefog/core/finding.h"
#include "basefog/core/image.h"
#include "basefog/core/measured.h"
#include "basefog/core/units.h"

#include <string>
#include <vector>

namespace basefog {

enum class ResidueGrade { clean, trace, partial, heavy };

/// Values of the defect map, as in report.json.
enum class Defect : std::uint8_t { none = 0, residue = 1, dust = 2, scratch = 3 };

struct StripResidue {
    ResidueGrade grade = ResidueGrade::clean;
    Measured<double> area_percent{};       ///< of the visible film: residue density above 0.05
    Measured<Density> mean{};              ///< over the visible film
    Measured<Density> veil{};              ///< even part
    bool veil_separable = false;           ///< false: no infrared, no cleaner strip of the stock to compare with
    std::vector<std::string> patterns;     ///< in words: "edge smears", "specks", "streaks along the travel", "veil", "patches"
    std::vector<double> frame_area_percent;///< per frame of the strip
    int dust_count = 0;
    friend bool operator==(const StripResidue&, const StripResidue&) = default;
};

struct SheetResidue {
    std::vector<StripResidue> strips;
    Image<Defect> defects;                 ///< overview size
    Image<float> residue_density;          ///< overview size; 0 where none is told
    std::vector<Finding> findings;
};

}  // namespace basefog
