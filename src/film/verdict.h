// SPDX-License-Identifier: GPL-3.0-or-later
// Did the extra exposure pay off?
#pragma once

#include "basefog/film/types.h"

namespace basefog::film {

/// From the frames' what-ifs and the rating; never from age.
[[nodiscard]] Verdict judge(const RollFacts& facts, const std::vector<FrameExposure>& frames);

}  // namespace basefog::film
