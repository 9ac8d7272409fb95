// SPDX-License-Identifier: GPL-3.0-or-later
// Text that is safe to place, and numbers a person can read. Names of files, rolls and stocks come from outside and may
// hold anything: markup, bytes that are no UTF-8, control characters, marks that turn the reading direction around.
#pragma once

#include <string>
#include <string_view>

namespace basefog::report {

/// Valid UTF-8 of one line: line breaks and tabs become spaces; bytes that are no UTF-8, other control characters,
/// direction marks (U+202A..E, U+2066..9, U+200E/F, U+061C), U+FEFF and non-characters become U+FFFD.
[[nodiscard]] std::string clean(std::string_view text);
/// Cleaned, and cut to at most `longest` characters, the last being an ellipsis where something was cut.
[[nodiscard]] std::string shortened(std::string_view text, std::size_t longest);
/// Cleaned, and & < > " ' as references: safe as content and as a quoted attribute of HTML and XML.
[[nodiscard]] std::string escape(std::string_view text);
/// A relative path as a link that stays relative: every byte but unreserved ones [RFC3986 section 2.3] and '/' percent-encoded,
/// so no scheme can be read into it; a leading '/' gets "." before it.
[[nodiscard]] std::string link_to(std::string_view path);
/// [RFC4648 section 4].
[[nodiscard]] std::string base64(std::string_view bytes);

/// Fixed digits with a true minus sign (U+2212); never "-0"; an en dash for what is not finite.
[[nodiscard]] std::string fixed(double value, int digits);
/// The same with a plus sign where positive.
[[nodiscard]] std::string with_sign(double value, int digits);
/// "+0.42 ± 0.08"; without the second part where the uncertainty is not a positive number.
[[nodiscard]] std::string with_uncertainty(std::string text, double std_uncertainty, int digits);
/// Percent with one digit below 10 and none above; "under 0.1" for less than that, "0" for nothing.
[[nodiscard]] std::string percent(double value);
/// "3.3 ± 0.6"; without the uncertainty as `percent`.
[[nodiscard]] std::string percent_with_uncertainty(double value, double std_uncertainty);
/// As short as it reads back, no more than four digits after the point: exposure indices, kelvin, minutes.
[[nodiscard]] std::string short_number(double value);
/// For SVG: fixed digits with an ASCII minus, trailing zeros cut, "0" for what is not finite.
[[nodiscard]] std::string svg_number(double value, int digits = 2);
/// "1 roll", "3 rolls".
[[nodiscard]] std::string counted(long long n, std::string_view one, std::string_view many);

}  // namespace basefog::report
