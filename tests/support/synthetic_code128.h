// SPDX-License-Identifier: GPL-3.0-or-later
// The bar code of the film's edge: a Code 128 symbol of digit pairs (code set C).
//
// The table of bar widths and the check character's rule are those of ISO/IEC 15417, written down from memory; the
// tests hold them to the properties that the symbology states of itself.
#pragma once

#include <array>
#include <string>
#include <vector>

namespace synthetic {

/// Widths of bar, space, bar, space, bar, space in modules; 11 in all. Values 0 to 105; 103 to 105 are the start characters A, B, C.
[[nodiscard]] const std::array<std::array<int, 6>, 106>& code128_widths();

/// The check character of a start character and the values after it: the weighted sum modulo 103.
[[nodiscard]] int code128_check(const std::vector<int>& values);

/// Start C, a value for each pair of digits, and the check character; the stop character is left out.
/// Throws std::invalid_argument unless `digits` is an even number of decimal digits.
[[nodiscard]] std::vector<int> code128_values(const std::string& digits);

/// The whole symbol with its stop character, without quiet zones: true where a bar is, one entry a module.
[[nodiscard]] std::vector<bool> code128_modules(const std::string& digits);

}  // namespace synthetic
