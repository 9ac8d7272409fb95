// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include <algorithm>
#include <string>

namespace basefog::cli {

/// Names from files and ledgers go to a terminal: control characters are shown as '?', so that none acts there.
[[nodiscard]] inline std::string plain(std::string text) {
    std::replace_if(
        text.begin(), text.end(), [](unsigned char c) { return c < 0x20 || c == 0x7f; }, '?');
    return text;
}

}  // namespace basefog::cli
