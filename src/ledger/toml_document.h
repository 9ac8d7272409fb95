// SPDX-License-Identifier: GPL-3.0-or-later
// From a file or text to a parsed TOML table, safe against hostile input.
#pragma once

#include "basefog/core/result.h"

#include <toml++/toml.h>
#include <string>

namespace basefog::ledger_room {

/// At most kMaxFileBytes. Errors: not_found, unreadable (a folder, a device, no permission), too_large.
[[nodiscard]] Result<std::string> read_text_file(const std::string& path);

/// Errors: malformed with line, column and what would be right; too_large.
[[nodiscard]] Result<toml::table> parse_toml(const std::string& text, const std::string& path);

}  // namespace basefog::ledger_room
