// SPDX-License-Identifier: GPL-3.0-or-later
// Memory for libraries that take a count in a file for true, and ask for room before they look whether the file holds as much.
#pragma once

#include <cstdint>
#include <cstdlib>

namespace basefog {

/// The most that a profile may ask for at once. Chosen: a table of 33 points in each of four inputs takes 14 MB.
inline constexpr std::uint32_t kMostIccBytes = 64U * 1024 * 1024;

/// Gives a colour library's table of memory functions (MallocPtr, FreePtr, ReallocPtr) malloc, free and realloc, that fail beyond kMostIccBytes.
template <class Functions>
void limit_icc_memory(Functions& functions) {
    functions.MallocPtr = [](auto, std::uint32_t bytes) -> void* { return bytes <= kMostIccBytes ? std::malloc(bytes) : nullptr; };
    functions.FreePtr = [](auto, void* what) { std::free(what); };
    functions.ReallocPtr = [](auto, void* what, std::uint32_t bytes) -> void* { return bytes <= kMostIccBytes ? std::realloc(what, bytes) : nullptr; };
}

}  // namespace basefog
