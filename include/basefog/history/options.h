// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"

namespace basefog {

struct TrendOptions {
    int min_rolls = 8;     ///< no verdict on fewer
    int min_sessions = 3;  ///< fewer cannot tell wear from one session's slip
    double level = 0.95;   ///< of each interval
    /// Probability of any false claim among all questions. Chosen below the 5 % that is promised, as the lines' p values rest on variances
    /// that are estimated; the invented years of the tests measure it.
    double family_error = 0.03;
    [[nodiscard]] Result<void> validate() const;
};

}  // namespace basefog
