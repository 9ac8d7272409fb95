// SPDX-License-Identifier: GPL-3.0-or-later
// Trends of a history as a page: pure formatting. The caller writes the file.
#pragma once

#include "basefog/history/types.h"

#include <string>

namespace basefog {

/// One self-contained HTML page in the report's look. `folder` is the absolute path of the folder the page will lie in:
/// links to the rolls' reports are relative to it, so that page and results can move together. `made` (ISO 8601) may be empty.
[[nodiscard]] std::string history_html(const HistoryTrends& trends, const std::string& folder, const std::string& made);

}  // namespace basefog
