// SPDX-License-Identifier: GPL-3.0-or-later
// One strip from its rough place to its frames' exact corners.
#pragma once

#include "fit.h"

namespace basefog::frames {

/// nullopt: nothing there that can be called film.
[[nodiscard]] std::optional<StripFit> fit_strip(const Overview& overview, const SheetLight& light, const StripPlace& place, const FindOptions& options,
                                                const FormatPrior& prior);

}  // namespace basefog::frames
