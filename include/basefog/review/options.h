// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"

#include <string>

namespace basefog {

struct ReviewOptions {
    std::string folder;    ///< of the results
    std::string layout;    ///< corrections are saved here; by default layout.toml in the folder
    std::string settings;  ///< choices of print likewise; by default print.toml in the folder
    /// Whoever has it may use the page: 32 hexadecimal digits nobody can guess. Given, as the library knows no chance.
    std::string token;
    int port = 0;  ///< 0: any that is free
};
/// Errors: usage.
[[nodiscard]] Result<void> validate(const ReviewOptions& options);

}  // namespace basefog
