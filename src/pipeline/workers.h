// SPDX-License-Identifier: GPL-3.0-or-later
// The stages' independent pieces on this process's threads.
#pragma once

#include "basefog/core/for_each.h"

namespace basefog::pipeline {

/// On as many threads as the run allows.
[[nodiscard]] ForEach on_all_threads();

}  // namespace basefog::pipeline
