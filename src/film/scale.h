// SPDX-License-Identifier: GPL-3.0-or-later
// One exposure scale for all rolls: how much density a stop makes, and how much slower one roll is than another.
//
// Pictures alone fix neither. What does: wedges; brackets, whose steps are those of a camera; exposures noted in the ledger; and ratings, above
// all where rolls rated differently show the same scenes.
#pragma once

#include "film/kinship.h"
#include "film/layers.h"
#include "film/wedge.h"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace basefog::film {

inline constexpr int kNoScene = -1;
/// A picture's height above its roll's toe under the assumed slopes, log10 H.
struct PlacedPicture {
    std::size_t roll = 0;
    int scene = kNoScene;  ///< kNoScene: a grey card, whose own level is known
    double height = 0;
    std::optional<double> extra;  ///< noted in the ledger, log10 H beyond the meter's
};

/// The true exposure of a height z on roll r is loss[r] + z * (1 + stretch[r]).
struct RollScale {
    double stretch = 0, stretch_std = 0;
    double loss = 0, loss_std = 0;  ///< log10 H
    /// A metered grey's true height above the roll's own toe, had it been exposed at box speed; only where box and rating are told.
    std::optional<double> grey_height;
    double grey_height_std = 0;
    std::string basis;  ///< what pins the slope, in words; empty: nothing does
    int n = 0;          ///< exposures that do
};
/// A direct reading of how far a roll's slopes are off: a chart's, whose patches' light is known.
struct StretchReading {
    std::size_t roll = 0;
    double value = 0, sigma = 0;
};
struct Scale {
    std::vector<RollScale> rolls;
    std::vector<double> height;  ///< of each picture, pictures of one scene set against each other
};
/// `common_std`: relative one-sigma of each roll's assumed slope.
[[nodiscard]] Scale fit_scale(std::span<const RollSamples> rolls, const std::vector<double>& common_std, const std::vector<PlacedPicture>& pictures,
                              const Scenes& scenes, const Targets& targets, std::span<const FilmModel> models, std::span<const StretchReading> charts = {});

}  // namespace basefog::film
