// SPDX-License-Identifier: GPL-3.0-or-later
// Memory for libraries that take a count in a file for true, and ask for room before they look whether the file holds as much.
#pragma once

#include <cstdint>
#include <cstdlib>

namespace basefog {

/// The most that a profile may ask for at once. Chosen: a table of 33 points in each of four inputs takes 14 MB.
inline constexpr std::uint32_t kMostIccBytes = 64U * 1024 * 1024;

/// As malloc and realloc; null beyond kMostIccBytes, and what was there before then stays.
[[nodiscard]] inline void* allocate_for_icc(std::uint32_t bytes) { return bytes <= kMostIccBytes ? std::malloc(bytes) : nullptr; }
[[nodiscard]] inline void* reallocate_for_icc(void* what, std::uint32_t bytes) { return bytes <= kMostIccBytes ? std::realloc(what, bytes) : nullptr; }

}  // namespace basefog
