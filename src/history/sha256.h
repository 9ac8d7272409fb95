// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include <string>
#include <string_view>

namespace basefog::history_room {

/// Secure Hash Algorithm SHA-256 [FIPS180-4], as 64 hexadecimal digits.
[[nodiscard]] std::string sha256(std::string_view bytes);

}  // namespace basefog::history_room
