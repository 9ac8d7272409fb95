// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/history/types.h"

#include <string>
#include <vector>

namespace basefog {

/// RFC 4180, one row per roll; the unit is part of a column's name. Texts a spreadsheet would run get an apostrophe before them.
[[nodiscard]] std::string history_csv(const std::vector<HistoryRoll>& rolls);
/// {"program", "history_format", "rolls": [...]}, keys as the CSV's columns; what is not known is null.
[[nodiscard]] std::string history_json(const std::vector<HistoryRoll>& rolls);

}  // namespace basefog
