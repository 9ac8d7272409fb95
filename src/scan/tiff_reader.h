// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/scan/reader.h"

namespace basefog::scan {

/// A file that begins as a TIFF or BigTIFF. ScanOptions::infrared_path is left to the caller.
[[nodiscard]] Result<std::unique_ptr<ScanReader>> open_tiff(const std::string& path, const ScanOptions& options, Observer& observer);

}  // namespace basefog::scan
