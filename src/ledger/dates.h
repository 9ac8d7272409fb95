// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/ledger/types.h"

#include <optional>
#include <string_view>

namespace basefog::ledger_room {

/// "2026-03-14"; nullopt for anything else, and for days that no calendar has.
[[nodiscard]] std::optional<Date> parse_date(std::string_view text);
/// Also "2014-06" (its last day) and "2014" (31 December), as boxes of film are marked: good until the end.
[[nodiscard]] std::optional<Date> parse_date_or_month(std::string_view text);
[[nodiscard]] bool in_calendar(Date date);

}  // namespace basefog::ledger_room
