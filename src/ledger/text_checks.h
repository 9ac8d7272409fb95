// SPDX-License-Identifier: GPL-3.0-or-later
// Text from files: is it UTF-8, how long is it, and can it be shown without harm?
#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <string_view>

namespace basefog::ledger_room {

/// Byte offset of the first sequence that is not UTF-8 (overlong forms and surrogates included); nullopt when all is well.
[[nodiscard]] std::optional<std::size_t> find_invalid_utf8(std::string_view text);
/// Code points; bytes that are not UTF-8 become U+FFFD.
[[nodiscard]] std::u32string code_points(std::string_view text);
[[nodiscard]] std::string utf8(std::u32string_view text);

/// Characters that do not print, or that reorder what is printed around them.
[[nodiscard]] bool is_control(char32_t c);
[[nodiscard]] bool has_control(std::string_view text, bool allow_lines);
/// "text" in quotation marks, shortened, with control characters shown by number: for messages.
[[nodiscard]] std::string in_quotes(std::string_view text);
/// A TOML basic string with its quotation marks.
[[nodiscard]] std::string toml_string(std::string_view text);

[[nodiscard]] std::string_view trimmed(std::string_view text);
[[nodiscard]] std::string ascii_lower(std::string_view text);

}  // namespace basefog::ledger_room
