// SPDX-License-Identifier: GPL-3.0-or-later
// A page on this machine, for this machine, to correct by hand what a run got wrong.
#pragma once

#include "basefog/review/options.h"
#include "basefog/review/types.h"

namespace basefog {

/// What the results' report.json says of the run. Errors: not_found, unreadable, malformed.
[[nodiscard]] Result<ReviewedRun> read_run(const std::string& folder);

/// Serves the page on the loopback interface until `observer` is cancelled; `ready` is told its address, token included. Nothing is
/// written but the layout, when the person saves, and what a run made again writes. Errors: usage, those of reading the results and
/// the layout, unwritable (no port).
[[nodiscard]] Result<void> serve_review(const ReviewOptions& options, const ReviewHooks& hooks, Observer& observer,
                                        const std::function<void(const std::string& address)>& ready);

}  // namespace basefog
