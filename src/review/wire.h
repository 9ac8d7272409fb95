// SPDX-License-Identifier: GPL-3.0-or-later
// Layouts as report.json has them and as the page sends them. Everything that comes in is judged.
#pragma once

#include "basefog/review/types.h"
#include "review/desk.h"

namespace basefog::review {

/// Errors: malformed.
[[nodiscard]] Result<std::vector<SheetOnDesk>> sheets_of_report(const std::string& report_json, const std::string& path);
[[nodiscard]] Result<ReviewedRun> run_of_report(const std::string& report_json, const std::string& path);

[[nodiscard]] nlohmann::ordered_json sheet_json(const SheetOnDesk& sheet);
/// Errors: malformed.
[[nodiscard]] Result<std::vector<NamedLayout>> layouts_of_json(const nlohmann::json& sheets);

/// To the hundredth of a pixel, which is as fine as a layout file goes.
[[nodiscard]] bool same_place(const Quad& a, const Quad& b);

}  // namespace basefog::review
