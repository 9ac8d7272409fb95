// SPDX-License-Identifier: GPL-3.0-or-later
// How much light of a colour temperature each layer of a film receives.
#pragma once

#include "basefog/core/units.h"

namespace basefog::film {

/// Light taken in by the three layers from a source of that colour temperature, green = 1. Planck's law below 4000 K, CIE
/// daylight [CIE15] from 4000 to 25000 K; outside 1000 to 25000 K the nearer end is taken.
[[nodiscard]] Rgb<double> layer_light(Kelvin temperature);

/// log10 of what each layer receives when a film balanced for `stock` is exposed by `light` through a filter of `filter_mired`
/// (positive warms), against its own light; green = 0.
[[nodiscard]] Rgb<LogExposure> layer_offsets(Kelvin stock, Kelvin light, double filter_mired);

}  // namespace basefog::film
