// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"
#include "basefog/ledger/types.h"

#include <string>
#include <vector>

namespace basefog {

/// Reads and checks a ledger. An error names file, line, column, what is wrong and what would be right; unknown keys
/// are errors that name the nearest known one. Does not look whether the sheets' files exist.
[[nodiscard]] Result<Ledger> read_ledger(const std::string& path);
/// The same from text; `path` is used for messages and to resolve file names.
[[nodiscard]] Result<Ledger> parse_ledger(const std::string& text, const std::string& path);
/// A commented ledger to start from; reads back without an error.
[[nodiscard]] std::string ledger_template();

/// How many rolls a roll's bath had done before it: all rolls of earlier sessions in the same bath (by date, then by
/// order in the ledger); rolls of the same session count as done together. nullopt when the bath is not known.
[[nodiscard]] std::optional<int> rolls_done_before(const Ledger& ledger, const std::string& roll_id);
/// Days from mixing the bath to the roll's session; nullopt when a date is missing.
[[nodiscard]] std::optional<int> bath_age_days(const Ledger& ledger, const std::string& roll_id);

/// What looks like a slip of the pen though it can be read: days to come (where today is told), a litre used a year after it was mixed or
/// past its capacity, two rolls in one place. One sentence each.
[[nodiscard]] std::vector<std::string> ledger_remarks(const Ledger& ledger, std::optional<Date> today);

}  // namespace basefog
