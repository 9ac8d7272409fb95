// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "mend/runs.h"

#include <cstdint>

namespace basefog::mending {

/// A pixel's marks.
inline constexpr unsigned char kDoubtful = 1;  ///< a defect's: nothing is copied from there
inline constexpr unsigned char kDivided = 2;   ///< has a divided value

/// What is to be filled.
struct Told {
    Runs hole;
    std::int64_t beyond = 0;  ///< pixels too wide to fill
};

}  // namespace basefog::mending
