// SPDX-License-Identifier: GPL-3.0-or-later
// The layouts the file has had, and the steps from each to the next. A step, once released, is never edited: it is what old
// files went through.
#pragma once

#include "basefog/core/observer.h"
#include "history/database.h"

#include <string>
#include <vector>

namespace basefog::history_room {

/// "bfog": says in the file's header that it is a history [SQLite-format, section 1.3.16].
inline constexpr std::int64_t kApplicationId = 0x62666f67;

/// Steps in order: the first makes layout 1 out of an empty file.
[[nodiscard]] const std::vector<std::string>& layout_steps();

/// Brings the file to the last layout: all steps in one transaction, after a backup if there was a layout before. Errors leave the
/// file as it was. unsupported: it is newer than the steps.
[[nodiscard]] Result<void> bring_up_to_date(const Database& database, const std::vector<std::string>& steps, Observer& observer);

/// malformed when the file is damaged, or is another program's.
[[nodiscard]] Result<void> check_whole(const Database& database);

}  // namespace basefog::history_room
