// SPDX-License-Identifier: GPL-3.0-or-later
// What a reader meets while it reads, told by the readers around it.
#pragma once

#include "basefog/scan/reader.h"

#include <algorithm>

namespace basefog::scan {

/// Adds `source`'s warnings that `info` does not hold yet; `of` goes before them.
inline void pass_on_warnings(const ScanReader& source, ScanInfo& info, const std::string& of = {}) {
    const auto has = [&](const std::string& warning) { return std::find(info.warnings.begin(), info.warnings.end(), warning) != info.warnings.end(); };
    for (const std::string& warning : source.info().warnings)
        if (!has(warning) && !has(of + warning)) info.warnings.push_back(of + warning);
}

}  // namespace basefog::scan
