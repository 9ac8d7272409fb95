// SPDX-License-Identifier: GPL-3.0-or-later
// Secure Hash Algorithm SHA-256 [FIPS180-4], as 64 hexadecimal digits.
#pragma once

#include "basefog/core/result.h"

#include <string>
#include <string_view>

namespace basefog {

[[nodiscard]] std::string sha256(std::string_view bytes);
/// Of a file's content. Errors: not_found, unreadable.
[[nodiscard]] Result<std::string> sha256_of_file(const std::string& path);

}  // namespace basefog
