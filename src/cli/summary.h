// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/pipeline/run.h"

#include <string>

namespace basefog::cli {

/// A few lines on standard output; the last ones name the report and the positives.
void print_summary(const RunRecord& record, const RunOptions& options, bool every_finding);

/// UTC, ISO 8601; SOURCE_DATE_EPOCH (reproducible-builds.org) stands in for the clock when set.
[[nodiscard]] std::string time_now();

}  // namespace basefog::cli
