// SPDX-License-Identifier: GPL-3.0-or-later
// Residue density where infrared is there: what is opaque in infrared and not the dyes' own leak.
#pragma once

#include "residue/strip_planes.h"

namespace basefog::residue {

/// Infrared density per unit of density above base in r, g and b.
struct DyeLeak {
    std::array<double, 3> k{};
    double noise = 0;  ///< of a pixel's infrared density about the fit
    [[nodiscard]] double sum() const { return k[0] + k[1] + k[2]; }
};
/// Fitted to all colour strips of the sheet together; residue lies above the fit and is kept out.
[[nodiscard]] DyeLeak fit_leak(const std::vector<StripPlanes>& strips);

/// Neutral density that goes with one of infrared: carbon may absorb a little less there. Told from smears on clear film: how much the colours
/// rise where infrared does.
[[nodiscard]] double fit_carbon_gain(const std::vector<StripPlanes>& strips, const DyeLeak& leak);

/// Neutral density above the clean base, pixel by pixel, noise and all. A neutral density x raises every channel by x, so
/// infrared less leak = x (1 - sum of k), were carbon's gain 1.
[[nodiscard]] cv::Mat residue_by_infrared(const StripPlanes& strip, const DyeLeak& leak, double carbon_gain);

}  // namespace basefog::residue
