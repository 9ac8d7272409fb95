// SPDX-License-Identifier: GPL-3.0-or-later
// A roll's speed by its pictures and its rating.
#pragma once

#include "basefog/film/types.h"
#include "film/scale.h"

namespace basefog::film {

/// A metered grey lies as far above the speed point as a meter's and the speed's definitions have it, if the film is as fast as it was rated:
/// the difference is the film's. No index where box or rating is not told, or there is no picture.
[[nodiscard]] RollSpeed speed_of(const RollFacts& facts, const FilmModel& model, const RollScale& scale);

}  // namespace basefog::film
