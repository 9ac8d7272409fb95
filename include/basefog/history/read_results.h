// SPDX-License-Identifier: GPL-3.0-or-later
// From a run's report.json to rows of the history. The file may come from anywhere: nothing in it is believed unchecked.
#pragma once

#include "basefog/core/result.h"
#include "basefog/history/types.h"

#include <string>
#include <vector>

namespace basefog {

/// `path` is a results folder or its report.json. Errors: not_found, unreadable, too_large, malformed, unsupported (another format).
[[nodiscard]] Result<std::vector<HistoryRoll>> read_results(const std::string& path);
/// The same from text; `page` is what points of a plot lead to. A value out of its range counts as not known.
[[nodiscard]] Result<std::vector<HistoryRoll>> parse_results(const std::string& text, const std::string& path, const std::string& page);

}  // namespace basefog
