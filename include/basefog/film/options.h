// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"
#include "basefog/core/units.h"

namespace basefog {

/// Defined by the report's contract: a shadow is lost below this many sigma of a 0.1 mm spot.
inline constexpr double kShadowSigma = 2.0;

struct FilmOptions {
    double shadow_sigma = kShadowSigma;  ///< a shadow is lost below this many sigma of a 0.1 mm spot
    Stops what_if_range{3.0};
    Stops what_if_step{0.5};
};
[[nodiscard]] Result<void> validate(const FilmOptions& options);

}  // namespace basefog
