// SPDX-License-Identifier: GPL-3.0-or-later
// What a reader meets while it reads, told by the readers around it.
#pragma once

#include "basefog/scan/reader.h"

#include <algorithm>

namespace basefog::scan {

/// Adds `source`'s warnings that `info` does not hold yet.
inline void pass_on_warnings(const ScanReader& source, ScanInfo& info) {
    for (const std::string& warning : source.info().warnings)
        if (std::find(info.warnings.begin(), info.warnings.end(), warning) == info.warnings.end()) info.warnings.push_back(warning);
}

}  // namespace basefog::scan
