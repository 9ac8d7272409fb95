// SPDX-License-Identifier: GPL-3.0-or-later
// How light falls off over the shots of a strip, where no frame of the bare light tells.
#pragma once

#include "basefog/frames/register_shots.h"

#include <optional>
#include <vector>

namespace basefog::frames {

struct FittedFalloff {
    ShotFalloff falloff;
    std::vector<Rgb<double>> levels;  ///< each shot's light in its middle, against that of the middlemost of them
    double std_log10 = 0;             ///< at the shot's corners, the worst channel
};

/// From bare light in perforations, which is the same wherever it is seen, and from film that two shots show in different places. Nothing where both are
/// too few. Pure.
[[nodiscard]] std::optional<FittedFalloff> fit_falloff(const std::vector<ShotHoles>& holes, const std::vector<ShotMatch>& matches, std::int64_t width,
                                                       std::int64_t height);

}  // namespace basefog::frames
