// SPDX-License-Identifier: GPL-3.0-or-later
// A camera's shot divided by one of the bare light, less what the camera records in the dark.
#pragma once

#include "basefog/scan/reader.h"

namespace basefog::scan {

/// Opens ScanOptions::light_frame_path (and dark_frame_path) and divides by it: 1 is bare light, wherever it falls. Errors: as open_scan; malformed where the
/// sizes differ, where the light frame is at the camera's white limit, hardly lit, or shows anything but light.
[[nodiscard]] Result<std::unique_ptr<ScanReader>> divide_by_light_frame(std::unique_ptr<ScanReader> shot, const ScanOptions& options, Observer& observer);

}  // namespace basefog::scan
