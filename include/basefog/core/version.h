// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include <string_view>

namespace basefog {
/// The program's version, "major.minor.patch".
[[nodiscard]] std::string_view version();
}  // namespace basefog
