// SPDX-License-Identifier: GPL-3.0-or-later
// What the fit has to say about itself, in words.
#pragma once

#include "film/balance.h"
#include "film/curves.h"
#include "film/scale.h"

#include <array>
#include <string>
#include <vector>

namespace basefog::film {

/// "1 picture", "2 pictures".
[[nodiscard]] std::string counted(int n, const std::string& what);
/// What unmixing, curves, balance and scale rest on, in that order.
[[nodiscard]] std::array<std::string, 4> describe_basis(const RollFacts& facts, const CurvePrior& prior, const Neutral& neutral, const RollScale& scale,
                                                        const std::string& mixing, bool silver);
[[nodiscard]] std::vector<Finding> find_news(const RollSamples& roll, const CurvePrior& prior, const Neutral& neutral, const RollScale& scale,
                                             const RollFilm& film);
/// What another light rests on.
[[nodiscard]] std::string describe_light(const LightGroup& group, const FoundShift& found);
/// Frames of roll `index` that were named colour charts and could not be read as such.
[[nodiscard]] std::vector<Finding> unread_charts(const RollSamples& roll, std::size_t index, const Targets& targets);

}  // namespace basefog::film
