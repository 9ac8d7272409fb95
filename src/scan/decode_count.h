// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include <cstdint>

namespace basefog::scan {

/// Called wherever samples are decoded from a file; see bytes_decoded().
void count_decoded(std::int64_t bytes);

}  // namespace basefog::scan
