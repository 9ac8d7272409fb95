// SPDX-License-Identifier: GPL-3.0-or-later
// Memory for profiles that come from files: lcms2 takes a count in a tag for true and asks for room before it looks whether the file holds as much.
#pragma once

#include <lcms2.h>
#include <lcms2_plugin.h>

#include <cstdlib>

namespace basefog {

/// The most that lcms2 may have at once for one thing. Chosen: a table of 33 points in each of four inputs takes 14 MB.
inline constexpr cmsUInt32Number kMostIccBytes = 64U * 1024 * 1024;

/// A context in which a profile that asks for more than kMostIccBytes cannot be read. To be deleted after all that was made in it; null without memory.
inline cmsContext make_icc_context() {
    cmsPluginMemHandler memory{};
    memory.base = {cmsPluginMagicNumber, 2000, cmsPluginMemHandlerSig, nullptr};
    memory.MallocPtr = [](cmsContext, cmsUInt32Number size) -> void* { return size <= kMostIccBytes ? std::malloc(size) : nullptr; };
    memory.FreePtr = [](cmsContext, void* what) { std::free(what); };
    memory.ReallocPtr = [](cmsContext, void* what, cmsUInt32Number size) -> void* { return size <= kMostIccBytes ? std::realloc(what, size) : nullptr; };
    return cmsCreateContext(&memory, nullptr);
}

}  // namespace basefog
