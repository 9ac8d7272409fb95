// SPDX-License-Identifier: GPL-3.0-or-later
// Which layer is behind which channel's density.
#pragma once

#include "basefog/film/types.h"
#include "film/constants.h"
#include "film/layers.h"

#include <array>
#include <vector>

namespace basefog::film {

[[nodiscard]] Matrix3 inverse(const Matrix3& m);
/// No channel sees less of its own layer, no layer takes in less of its own light, than a share no camera film falls under.
[[nodiscard]] bool each_sees_its_own(const Matrix3& m);
/// Channel densities from dye amounts: mix[channel][layer] = slope[channel] * share / slope[layer]. A layer's dye is counted
/// as the density a neutral with that much of it has in the layer's own channel, so a neutral's dyes equal its densities.
[[nodiscard]] Matrix3 channel_from_dye(const Mix& neutral_share, const Rgb<LayerCurve>& curves);
/// What is assumed of the mixing: its mean, and one sigma of the natural logarithm of green's share in red, red's and blue's in green, green's in blue.
struct SharePrior {
    Mix mean = kNeutralShare;
    std::array<double, 4> log_std = kShareStd;
};
/// Of a scanner of any kind, or of a camera's own channels.
[[nodiscard]] SharePrior assume_share(bool camera_channels);

/// Mixing as the pictures have it: how strong red - green edges are beside blue - green ones, both beside luminance, and how the two go together,
/// against photographs in general. Five of the shares are fitted, each against its prior.
struct ShareFit {
    Mix share = kNeutralShare;
    int n_votes = 0;
};
/// `curves`: of each roll the pictures come from.
[[nodiscard]] ShareFit fit_share(const std::vector<Picture>& pictures, const std::vector<LayerPicture>& layers, const std::vector<double>& weights,
                                 const std::vector<Rgb<LayerCurve>>& curves, const SharePrior& prior = {});

/// Undoes the assumed overlap of the layers' sensitivities.
[[nodiscard]] Matrix3 scene_from_layer();

}  // namespace basefog::film
