// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/scan/reader.h"

namespace basefog::scan {

/// A PNG or JPEG (`kind`), whose header is checked here and whose pixels are decoded when they are first read: whole where memory allows, else row by row.
/// ScanOptions::infrared_path is left to the caller.
[[nodiscard]] Result<std::unique_ptr<ScanReader>> open_picture(const std::string& path, FileKind kind, const ScanOptions& options, Observer& observer);

}  // namespace basefog::scan
