// SPDX-License-Identifier: GPL-3.0-or-later
// A file of the source tree whose bytes the build put into the program: style sheets and scripts of pages.
#pragma once

#include <string_view>

namespace basefog {

struct EmbeddedFile {
    std::string_view text;
    std::string_view sha256;  ///< of the text, in hexadecimal digits: what a page's policy allows by name
};

}  // namespace basefog
