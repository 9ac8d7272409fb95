// SPDX-License-Identifier: GPL-3.0-or-later
// Each frame's place on the curves, and what it loses at either end.
#pragma once

#include "basefog/film/options.h"
#include "basefog/film/types.h"
#include "film/grain.h"
#include "film/layers.h"

#include <vector>

namespace basefog::film {

/// Exposure, render level and lost shares of every frame of the roll, as in `roll.frames`. Frames that are no pictures get the
/// roll's level and no shares.
[[nodiscard]] std::vector<FrameExposure> place_frames(const RollSamples& roll, const std::vector<Picture>& pictures, const FilmModel& model, double slope_std,
                                                      const std::vector<GrainPoint>& grain, const FilmOptions& options);

}  // namespace basefog::film
