// SPDX-License-Identifier: GPL-3.0-or-later
// Where a neutral lies on the roll: the layers' speeds and slopes against green's, from what is told and from all pictures.
#pragma once

#include "film/votes.h"

#include <array>
#include <string>
#include <vector>

namespace basefog::film {

/// A neutral at height z above the toe has red - green = speed[0] + tilt[0] * z, blue - green likewise, under the prior's curves.
struct Neutral {
    Pair speed{}, tilt{};
    /// Of (speed red, tilt red, speed blue, tilt blue).
    std::array<std::array<double, 4>, 4> covariance{};
    int n_votes = 0, n_brackets = 0;
    [[nodiscard]] Pair at(double height) const { return {speed[0] + tilt[0] * height, speed[1] + tilt[1] * height}; }
    [[nodiscard]] Pair std_at(double height) const;
};

/// What is told of stock, light and age, as a neutral before the pictures are asked.
[[nodiscard]] Neutral assume_neutral(const RollFacts& facts, const std::array<std::array<double, 2>, 2>& tilt_covariance);
[[nodiscard]] std::string basis_of_assumed(const RollFacts& facts);

/// The prior combined with every picture's votes, by inverse variance, votes far from the rest weighing little.
[[nodiscard]] Neutral fit_neutral(const Neutral& prior, const std::vector<LayerPicture>& pictures, const Scenes& scenes);

}  // namespace basefog::film
