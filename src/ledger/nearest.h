// SPDX-License-Identifier: GPL-3.0-or-later
// Which known word was meant?
#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace basefog::ledger_room {

/// Fewest insertions, deletions, replacements and swaps of neighbours (optimal string alignment), over code points,
/// capital and small a-z alike.
[[nodiscard]] std::size_t edit_distance(std::string_view a, std::string_view b);

/// What to say after "unknown ...": "did you mean "x"?" when one word is near, else the words there are, nearest
/// first. `noun` in the plural, e.g. "keys". Empty when there are no words.
[[nodiscard]] std::string suggestion(std::string_view word, const std::vector<std::string>& known, std::string_view noun);

}  // namespace basefog::ledger_room
