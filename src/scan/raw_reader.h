// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/scan/reader.h"

namespace basefog::scan {

/// Whether LibRaw knows the file as a camera's, by its header.
[[nodiscard]] bool looks_like_raw(const std::string& path);

/// A camera's RAW file through LibRaw, as the sensor's own linear light: black subtracted, saturation at 1, colours
/// interpolated from the mosaic, and nothing else. Decoded whole when first read. ScanOptions::infrared_path is left to the caller.
/// `date` is what the caller could read of it, ISO 8601 or empty.
/// Errors: unsupported where LibRaw does not know the file or it holds no sensor data.
[[nodiscard]] Result<std::unique_ptr<ScanReader>> open_raw(const std::string& path, const std::string& date, const ScanOptions& options, Observer& observer);

}  // namespace basefog::scan
