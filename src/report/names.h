// SPDX-License-Identifier: GPL-3.0-or-later
// Enumerators as the words report.json and frames.csv use; docs/report.schema.json lists the same words.
#pragma once

#include "basefog/report/types.h"

#include <string>
#include <string_view>
#include <vector>

namespace basefog::report {

[[nodiscard]] std::string_view name_of(Severity severity);
[[nodiscard]] std::string_view name_of(ErrorCode code);
[[nodiscard]] std::string_view name_of(FileKind kind);
[[nodiscard]] std::string_view name_of(Encoding::Kind kind);
[[nodiscard]] std::string_view name_of(Origin origin);
[[nodiscard]] std::string_view name_of(ScaleOrigin origin);
[[nodiscard]] std::string_view name_of(StripDirection direction);
[[nodiscard]] std::string_view name_of(FrameKind kind);
[[nodiscard]] std::string_view name_of(EdgePrint::Kind kind);
[[nodiscard]] std::string_view name_of(ResidueGrade grade);
[[nodiscard]] std::string_view name_of(Outcome outcome);
[[nodiscard]] std::string_view name_of(StockKind kind);
[[nodiscard]] std::vector<std::string> names_of(MeasureFlag flags);

}  // namespace basefog::report
