// SPDX-License-Identifier: GPL-3.0-or-later
// Leftover carbon backing, dust, fibres and scratches on a sheet.
#pragma once

#include "basefog/core/finding.h"
#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/measured.h"
#include "basefog/core/units.h"

#include <array>
#include <optional>
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

/// How the infrared picture lies against the colours, and how sharp it is beside them. Lengths in full-scan pixels.
struct InfraredMatch {
    double shift_x = 0, shift_y = 0;          ///< at the sheet's centre: infrared shows at p + shift what the colours show at p
    std::array<double, 4> stretch{};          ///< change of shift_x per pixel in x and in y, of shift_y per pixel in x and in y
    double centre_x = 0, centre_y = 0;
    double std_uncertainty = 0;               ///< of the shift
    double focus = 0;                         ///< variance (pixels squared) by which infrared is softer; negative: sharper
    int places = 0;                           ///< edges and specks it was told from; 0: taken to be in register
    /// Where infrared shows what the colours show at p.
    [[nodiscard]] PointPx at(PointPx p) const {
        const double u = p.x - centre_x, v = p.y - centre_y;
        return {p.x + shift_x + stretch[0] * u + stretch[1] * v, p.y + shift_y + stretch[2] * u + stretch[3] * v};
    }
    friend bool operator==(const InfraredMatch&, const InfraredMatch&) = default;
};

/// What is needed to tell residue and dust from the dyes by infrared, anywhere on the sheet.
struct InfraredModel {
    InfraredMatch match;
    std::array<double, 3> leak{};             ///< infrared density per unit of density in red, green and blue
    double noise = 0;                         ///< of the clean film's infrared density about the fit, one overview pixel
    double carbon_gain = 1;                   ///< neutral density that goes with one of infrared
    friend bool operator==(const InfraredModel&, const InfraredModel&) = default;
};

struct SheetResidue {
    std::vector<StripResidue> strips;
    std::vector<Measured<Density>> veil_in_base;  ///< per strip: veil that its base, as measured, still carries: to be taken off in r, g and b
    std::optional<InfraredModel> infrared;    ///< nullopt: a scan without infrared
    Image<Defect> defects;                 ///< overview size
    Image<float> residue_density;          ///< overview size; 0 where none is told
    std::vector<Finding> findings;
};

}  // namespace basefog
