// SPDX-License-Identifier: GPL-3.0-or-later
// A broken precondition is a bug, not bad input: it aborts in every build type and says where.
#pragma once

namespace basefog::detail {
[[noreturn]] void assertion_failed(const char* condition, const char* file, int line);
}

#define BASEFOG_ASSERT(condition) ((condition) ? static_cast<void>(0) : ::basefog::detail::assertion_failed(#condition, __FILE__, __LINE__))
