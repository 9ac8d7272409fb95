// SPDX-License-Identifier: GPL-3.0-or-later
// Words for the slips people make when they write TOML by hand.
#pragma once

#include <string>
#include <string_view>

namespace basefog::ledger_room {

/// The parser's own description without its preamble.
[[nodiscard]] std::string plain_syntax_error(std::string_view description);
/// What would be right, guessed from the line and where the parser stopped (column in characters, from 1).
[[nodiscard]] std::string syntax_hint(std::string_view line, int column, std::string_view description);

}  // namespace basefog::ledger_room
