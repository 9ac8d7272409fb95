// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "frame_suite/summary.h"

#include <string>

namespace basefog::suite {

/// The summary as Markdown: totals, confidence, a table by kind of difficulty, the worst sheets.
[[nodiscard]] std::string markdown(const Summary& summary, const std::vector<SheetOutcome>& sheets);

}  // namespace basefog::suite
