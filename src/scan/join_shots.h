// SPDX-License-Identifier: GPL-3.0-or-later
// Overlapping shots of one strip as one picture, in which the strip runs down.
#pragma once

#include "basefog/scan/reader.h"

namespace basefog::scan {

/// Each pixel is interpolated straight from the one or two shots that show it, lens and place undone in one step; where one goes over into the next they
/// are mixed in linear light. Errors: those of opening the first shot.
[[nodiscard]] Result<std::unique_ptr<ScanReader>> join_shots(const std::string& path, const ScanOptions& options, Observer& observer);

}  // namespace basefog::scan
