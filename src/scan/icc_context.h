// SPDX-License-Identifier: GPL-3.0-or-later
// Where profiles from files are opened: with limited memory.
#pragma once

#include "basefog/core/limited_memory.h"

#include <lcms2.h>
#include <lcms2_plugin.h>

namespace basefog::scan {

/// A context in which a profile that asks for more than kMostIccBytes cannot be read. To be deleted after all that was made in it; null without memory.
inline cmsContext make_icc_context() {
    cmsPluginMemHandler memory{};
    memory.base = {cmsPluginMagicNumber, 2000, cmsPluginMemHandlerSig, nullptr};
    memory.MallocPtr = [](cmsContext, cmsUInt32Number size) { return allocate_for_icc(size); };
    memory.FreePtr = [](cmsContext, void* what) { std::free(what); };
    memory.ReallocPtr = [](cmsContext, void* what, cmsUInt32Number size) { return reallocate_for_icc(what, size); };
    return cmsCreateContext(&memory, nullptr);
}

}  // namespace basefog::scan
