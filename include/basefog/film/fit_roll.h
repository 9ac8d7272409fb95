// SPDX-License-Identifier: GPL-3.0-or-later
// Everything about a roll that its pictures, taken together, can say. See docs/stages/film.md.
#pragma once

#include "basefog/core/result.h"
#include "basefog/film/options.h"
#include "basefog/film/types.h"

namespace basefog {

/// Pure. A roll without a single picture still gets a model (all prior, flagged). Errors: usage only.
[[nodiscard]] Result<RollFilm> fit_roll(const RollSamples& roll, const FilmOptions& options);

}  // namespace basefog
