// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"

namespace basefog {

struct TrendOptions {
    int min_rolls = 8;           ///< no verdict on fewer
    int min_sessions = 3;        ///< fewer cannot tell wear from one session's slip
    double level = 0.95;         ///< of each interval
    double family_error = 0.05;  ///< probability of any false claim among all questions
    [[nodiscard]] Result<void> validate() const;
};

}  // namespace basefog
