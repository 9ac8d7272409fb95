// SPDX-License-Identifier: GPL-3.0-or-later
// Results open for correction by hand: where strips and frames lie, as a run found them and as a person moves them.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/observer.h"
#include "basefog/core/proof.h"
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
    std::string settings_file;                                  ///< the choices of print it wrote, relative to the folder; empty where it made no positives
};

/// What reviewing needs of the rest of the program; given by the caller, so that this room knows no other stage.
struct ReviewHooks {
    /// A part of a scan as a JPEG for the screen, its longer side at most so many pixels.
    std::function<Result<std::string>(const std::string& scan, PxRect part, int long_side)> picture;
    /// Makes the run again with the layout and the settings that were saved, into the same folder.
    std::function<Result<void>(Observer& observer)> run_again;
    /// Makes ready for proofs: measures what the run measured, with the layout that was saved. Called before the first proof and after each run. Empty:
    /// there are no proofs.
    std::function<Result<void>(Observer& observer)> prepare_proofs;
    /// One frame as its positive would be; called by one thread at a time, and not while proofs are made ready.
    std::function<Result<Proof>(const ProofWish& wish)> proof;
    /// Does the ledger say how this frame is wanted? Then the settings must too, as the nearest word holds. Empty: it says nothing of any.
    std::function<bool(const std::string& roll, int number)> told_of_frame;
};

}  // namespace basefog
