// SPDX-License-Identifier: GPL-3.0-or-later
// A stock's rolls side by side.
#pragma once

#include "basefog/film/types.h"

#include <span>
#include <vector>

namespace basefog::film {

/// Base, fog, slopes, crossover, grain, speed and losses of each, least fogged first. Two rolls or more.
[[nodiscard]] StockComparison compare_rolls(std::span<const RollSamples> rolls, const std::vector<RollFilm>& films);

}  // namespace basefog::film
