// SPDX-License-Identifier: GPL-3.0-or-later
// Film speed from characteristic curves on an absolute exposure scale (a step wedge; never from pictures, which know no lux seconds).
#pragma once

#include "basefog/core/result.h"
#include "basefog/core/units.h"

#include <utility>
#include <vector>

namespace basefog {

/// One channel's curve: log10 H (H in lux seconds) and density, at increasing exposures.
using SensitometricCurve = std::vector<std::pair<LogExposure, Density>>;

/// Speed of a colour negative [ISO5800, formula from memory]: exposures H at 0.15 above each channel's minimum density;
/// H_M = sqrt(H_green * H_slowest), S = sqrt(2) / H_M. Linear between points; the first point is taken as the minimum density.
/// Errors: usage (fewer than two points, exposures not increasing, 0.15 never reached, not finite).
[[nodiscard]] Result<double> iso5800_speed(const Rgb<SensitometricCurve>& curves);

/// RMS granularity in the standard 48 um round aperture, from the noise of a 0.1 mm square spot [ISO10505, from memory]:
/// by Selwyn's law, noise x sqrt(area) is constant. Density x 1000, as granularity is usually printed.
[[nodiscard]] double rms_granularity(double spot_noise);

}  // namespace basefog
