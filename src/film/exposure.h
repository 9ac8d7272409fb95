// SPDX-License-Identifier: GPL-3.0-or-later
// Each frame's place on the curves, and what it loses at either end.
#pragma once

#include "basefog/core/for_each.h"
#include "basefog/film/options.h"
#include "basefog/film/types.h"
#include "film/layers.h"
#include "film/losses.h"

#include <optional>
#include <vector>

namespace basefog::film {

/// log10 H of a picture's middle, 0 by the aim: from its upper points, which neither thin shadows nor fog reach, and which shift with exposure
/// alone; the usual height of such points above mid-grey is taken off.
struct Level {
    double value = 0;
    bool on_shoulder = false;  ///< its upper point lies where steps are compressed; then the lower one alone decides
};
[[nodiscard]] Level level_of(const Picture& picture, const FilmModel& model, const std::array<CurveTable, 3>& curves);

/// A frame whose exposure was found.
struct FoundLevel {
    std::size_t frame = 0;                    ///< index in RollSamples
    double level = 0;                         ///< log10 H
    double reading_std = 0;                   ///< log10 H: read off the film
    double own_std = 0;                       ///< log10 H: the scene's own key
    std::int64_t n = 0;                       ///< spots
    std::optional<int> scene = std::nullopt;  ///< the same for frames that show one scene
};

/// Exposure, render level and lost shares of every frame of the roll, as in `roll.frames`. Frames without a level get the roll's and no
/// shares.
[[nodiscard]] std::vector<FrameExposure> place_frames(const RollSamples& roll, const std::vector<FoundLevel>& levels, double slope_std, double toe,
                                                      const LossMeter& meter, const FilmOptions& options, const ForEach& for_each);

}  // namespace basefog::film
