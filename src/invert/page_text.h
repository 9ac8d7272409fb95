// SPDX-License-Identifier: GPL-3.0-or-later
// Words on a contact sheet: stroke letters drawn large and averaged down, so that they are smooth. Private to the invert stage.
#pragma once

#include "basefog/core/image.h"

#include <cstdint>
#include <string>
#include <vector>

namespace basefog::invert {

struct TextStyle {
    int height_px = 16;      ///< of a capital letter
    double weight = 1.0;     ///< stroke width, in tenths of the height
    std::uint8_t grey = 40;  ///< of the letters
};

/// What the stroke letters can show: Latin letters lose their accents, dashes and quotes become plain, anything else "?".
[[nodiscard]] std::string plain_letters(const std::string& utf8);
[[nodiscard]] int text_width(const std::string& plain, const TextStyle& style);
/// At most `lines` lines of at most `width` pixels, broken at spaces; what does not fit ends in "...".
[[nodiscard]] std::vector<std::string> wrap_text(const std::string& plain, const TextStyle& style, int width, int lines);
/// `baseline` is the y of the letters' foot. What falls outside the page is left out.
void draw_text(View<EncodedRgb8> page, const std::string& plain, const TextStyle& style, std::int64_t x, std::int64_t baseline);

}  // namespace basefog::invert
