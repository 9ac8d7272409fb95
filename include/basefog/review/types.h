// SPDX-License-Identifier: GPL-3.0-or-later
// Results open for correction by hand: where strips and frames lie, as a run found them and as a person moves them.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/observer.h"
#include "basefog/core/result.h"

#include <cstdint>
#include <functional>
#include <string>
#include <utility>
#include <vector>

namespace basefog {

/// What a run was made with, as its report.json tells: enough to make it again.
struct ReviewedRun {
    std::string command;                                        ///< "invert" or "measure"
    std::vector<std::pair<std::string, std::string>> settings;  ///< options by their names, without dashes; a flag's value is "true"
    std::vector<std::string> scans;                             ///< as named then
};

/// What reviewing needs of the rest of the program; given by the caller, so that this room knows no other stage.
struct ReviewHooks {
    /// A part of a scan as a JPEG for the screen, its longer side at most so many pixels.
    std::function<Result<std::string>(const std::string& scan, PxRect part, int long_side)> picture;
    /// Makes the run again with the layout that was saved, into the same folder.
    std::function<Result<void>(Observer& observer)> run_again;
};

}  // namespace basefog
