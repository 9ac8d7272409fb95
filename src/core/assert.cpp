// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/assert.h"

#include <cstdio>
#include <cstdlib>

namespace basefog::detail {

void assertion_failed(const char* condition, const char* file, int line) {
    std::fprintf(stderr, "basefog: a bug: %s does not hold (%s:%d). Please report it with the command that led here.\n", condition, file, line);
    std::abort();
}

}  // namespace basefog::detail
