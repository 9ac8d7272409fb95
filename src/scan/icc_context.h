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
    limit_icc_memory(memory);
    return cmsCreateContext(&memory, nullptr);
}

}  // namespace basefog::scan
