// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/pipeline/run.h"

#include <string>
#include <vector>

namespace basefog::cli {

/// The options of `basefog VERB WORD...`, as typed; verb is invert or measure. Errors: usage, and those of the ledger.
[[nodiscard]] Result<RunOptions> run_options_of(const std::string& verb, std::vector<std::string> words);

}  // namespace basefog::cli
