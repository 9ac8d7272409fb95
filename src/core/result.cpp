// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/result.h"

namespace basefog {

std::string describe(const Error& error) {
    std::string text;
    if (!error.path.empty()) text = error.path + ": ";
    text += error.what;
    if (!error.hint.empty()) text += "; " + error.hint;
    return text;
}

}  // namespace basefog
