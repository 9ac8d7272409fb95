// SPDX-License-Identifier: GPL-3.0-or-later
// Status M and Status A densities of a spectrum, by the published spectral products. Nothing here comes from the library under test.
#pragma once

#include <array>
#include <functional>

namespace synthetic {

/// Density at a wavelength in nm.
using DensitySpectrum = std::function<double(double nm)>;
/// Red, green, blue [ISO5-3]: -log10 of transmittance weighted by the spectral products. 1 for a flat density of 1.
[[nodiscard]] std::array<double, 3> status_m(const DensitySpectrum& spectrum);
[[nodiscard]] std::array<double, 3> status_a(const DensitySpectrum& spectrum);

}  // namespace synthetic
