// SPDX-License-Identifier: GPL-3.0-or-later
// What the program's exit tells a script; documented in the man page and the README.
#pragma once

#include "basefog/core/result.h"

namespace basefog::cli {

enum ExitCode : int {
    kOk = 0,
    kFindings = 1,     ///< findings at or above --fail-on
    kUsage = 2,        ///< the command line, a ledger or a layout is wrong
    kInput = 3,        ///< a scan could not be used
    kOutput = 4,       ///< a result could not be written
    kInterrupted = 5,  ///< stopped by the person
    kLeftOut = 6,      ///< --keep-going: some sheets were left out, the rest is done
};

[[nodiscard]] inline ExitCode exit_code_of(const Error& error) {
    switch (error.code) {
        case ErrorCode::usage:
            return kUsage;
        case ErrorCode::unwritable:
            return kOutput;
        case ErrorCode::interrupted:
            return kInterrupted;
        default:
            return kInput;
    }
}

}  // namespace basefog::cli
