// SPDX-License-Identifier: GPL-3.0-or-later
// Did the extra exposure pay off?
#pragma once

#include "basefog/film/types.h"

namespace basefog::film {

/// From the pictures' what-ifs and the rating; never from age. `frames` as in the roll.
[[nodiscard]] Verdict judge(const RollSamples& roll, const std::vector<FrameExposure>& frames);

}  // namespace basefog::film
