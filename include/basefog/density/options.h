// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"
#include "basefog/core/units.h"

namespace basefog {

struct DensityOptions {
    double light_trim = 0.02;          ///< share of the bare-light samples dropped at the dark side (dust, edges)
    Millimetres spot{0.1};             ///< side of the spot noise is stated for
};
[[nodiscard]] Result<void> validate(const DensityOptions& options);

}  // namespace basefog
