// SPDX-License-Identifier: GPL-3.0-or-later
// Academy Density Exchange encoding of film densities [SMPTE2065-3]: the codes, and what ACES makes of them. Pure.
#pragma once

#include "basefog/core/image.h"
#include "basefog/core/units.h"

namespace basefog::invert {

enum class AdxBits { ten, sixteen };

/// Code value, not rounded, of a channel-dependent density above the film's minimum. ADX10: 500 codes per density and 95 at minimum density; ADX16: 8000
/// and 1520.
[[nodiscard]] double adx_code(Density above_minimum, AdxBits bits);
[[nodiscard]] Density adx_density(double code, AdxBits bits);

/// ACES2065-1 linear light from densities above minimum, as the ACES transform has it: densities mixed to independent ones, a table to log10
/// exposure, a matrix. Below the table's first entry the exposure is held at 10^-10.
[[nodiscard]] SceneRgb aces_from_adx_density(const Rgb<Density>& above_minimum);

}  // namespace basefog::invert
