// SPDX-License-Identifier: GPL-3.0-or-later
// Everything that the pictures of a stock's rolls, taken together, can say of each. See docs/stages/film.md.
#pragma once

#include "basefog/core/for_each.h"
#include "basefog/core/result.h"
#include "basefog/film/options.h"
#include "basefog/film/types.h"

#include <span>

namespace basefog {

/// Pure. The rolls should be of one stock, or of stocks alike but for their age, in one process, scanned on one scanner: mixing is taken to be
/// the same for all, curves and speeds to differ as little as their stocks and sessions allow, and exposures come out on one scale.
/// A roll without a single picture still gets a model (all prior, flagged). No rolls give an empty result. Errors: usage only.
/// `for_each`: pictures and frames are asked side by side; the result does not depend on it.
[[nodiscard]] Result<StockFilm> fit_stock(std::span<const RollSamples> rolls, const FilmOptions& options, const ForEach& for_each = {});

/// May two rolls be fitted together? The same stock, or both told and alike in box speed, balance, own process and kind; and the same process.
[[nodiscard]] bool are_alike(const RollFacts& a, const RollFacts& b);

}  // namespace basefog
