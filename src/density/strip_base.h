// SPDX-License-Identifier: GPL-3.0-or-later
// Base + fog of one strip: the lowest well-filled level of its clear film.
#pragma once

#include "basefog/density/types.h"
#include "density/cells.h"
#include "density/fit_light.h"
#include "density/flare.h"

namespace basefog::density {

/// A strip's base before any veil is told from it, and where it came from.
struct RawBase {
    Channels value{};
    Channels random_std{};       ///< of this strip alone
    Channels std_uncertainty{};  ///< with the light field's and the flare's
    std::int64_t n = 0;          ///< cells
    bool measured = false;       ///< false: no clear film in view
    bool dusty = false;          ///< much of the clear film lies above the base
    bool clipped = false;
};

/// Density of each cell of clear film.
struct BaseCells {
    std::vector<Channels> density;
    std::vector<double> along;  ///< position along the strip, any unit
    Terms mean_terms = Terms::Zero();
    bool clipped = false;
};
[[nodiscard]] BaseCells densities_of(const std::vector<LightCell>& cells, const FittedLight& light, const Flare& flare);

[[nodiscard]] RawBase estimate_base(const BaseCells& cells, const FittedLight& light, const Flare& flare, const Channels& bright, bool has_infrared);

/// Centre of the lowest cluster of values that holds a fair share of them; its half-width is `window`.
[[nodiscard]] double lowest_cluster(std::vector<double> values, double window);

/// Standard deviation of density at a spot of `spot_px` overview pixels a side, per channel.
[[nodiscard]] Rgb<double> base_noise(const Image<DensityRgbi>& density, const RegionMap& regions, int strip, const RawBase& base, double spot_px);

/// Black-and-white: neither mask nor dye colour.
[[nodiscard]] bool is_silver(const Image<DensityRgbi>& density, const RegionMap& regions, int strip, const RawBase& base, bool relative);

/// Takes from each base the neutral veil that other strips of the sheet show it carries. Returns the veils.
[[nodiscard]] std::vector<double> remove_veils(std::vector<RawBase>& bases, const std::vector<bool>& silver, bool has_infrared);

}  // namespace basefog::density
