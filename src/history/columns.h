// SPDX-License-Identifier: GPL-3.0-or-later
// A roll as a row: the one list that table, digest and exports share.
#pragma once

#include "basefog/history/types.h"

#include <optional>
#include <string>
#include <variant>
#include <vector>

namespace basefog::history_room {

template <class T>
using Member = T HistoryRoll::*;

struct Column {
    const char* name;
    std::variant<Member<std::string>, Member<std::vector<std::string>>, Member<std::optional<Date>>, Member<std::optional<double>>, Member<std::optional<int>>,
                 Member<bool>>
        member;
    bool in_digest = true;  ///< false: where and when, not what
    bool measured = false;  ///< false: as told
};
[[nodiscard]] const std::vector<Column>& columns();

/// Sheets as one text and back; names hold no line breaks.
[[nodiscard]] std::string joined(const std::vector<std::string>& lines);
[[nodiscard]] std::vector<std::string> split_lines(const std::string& text);

/// Day of the calendar from "2026-03-14"; nullopt for anything else.
[[nodiscard]] std::optional<Date> date_from(const std::string& text);

/// SHA-256 of the columns that hold something, so that a column added later changes no digest of earlier results.
[[nodiscard]] std::string digest_of(const HistoryRoll& roll);
/// Columns that hold something.
[[nodiscard]] int values_told(const HistoryRoll& roll);

/// Are these two results of one roll of film? Same name, sessions that do not contradict each other, and a sheet in common.
[[nodiscard]] bool same_roll(const HistoryRoll& a, const HistoryRoll& b);
/// Same name and session, but no sheet in common: two parts of one roll, from runs that each saw some of its sheets.
[[nodiscard]] bool parts_of_one_roll(const HistoryRoll& a, const HistoryRoll& b);

}  // namespace basefog::history_room
