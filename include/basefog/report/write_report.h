// SPDX-License-Identifier: GPL-3.0-or-later
// Results as text: pure formatting. The caller writes the files.
#pragma once

#include "basefog/report/types.h"

#include <functional>
#include <string>
#include <string_view>

namespace basefog {

/// report.json; see docs/report.schema.json. Keys in a fixed order, numbers in the shortest form that reads back.
[[nodiscard]] std::string report_json(const RunRecord& record);
/// frames.csv, RFC 4180, one row per frame, units in the header.
[[nodiscard]] std::string frames_csv(const RunRecord& record);
/// One self-contained HTML page; all text from files and ledger escaped. Handed to `write` piece by piece, of which none holds more than one sheet's
/// pictures, so that memory does not grow with them. Errors: what `write` returns; unreadable, where pictures that were put aside cannot be got back.
[[nodiscard]] Result<void> report_html(const RunRecord& record, const std::function<Result<void>(std::string_view)>& write);
/// The same in one piece, of a record whose pictures are in memory.
[[nodiscard]] std::string report_html(const RunRecord& record);

}  // namespace basefog
