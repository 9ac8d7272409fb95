// SPDX-License-Identifier: GPL-3.0-or-later
// A camera's shot divided by one of the bare light, less what the camera records in the dark.
#pragma once

#include "basefog/scan/reader.h"

#include <memory>

namespace basefog::scan {

/// What a light frame, and perhaps a dark one, say of every pixel; shots by the same camera may share it.
class LightAndDark;

/// Reads ScanOptions::light_frame_path and dark_frame_path, for shots like this one. Errors: as open_scan; malformed where the sizes differ, where the light
/// frame is at the camera's white limit, hardly lit, or shows anything but light.
[[nodiscard]] Result<std::shared_ptr<const LightAndDark>> read_light_frame(const ScanInfo& shot, const ScanOptions& options, Observer& observer);

/// 1 is bare light, wherever it falls.
[[nodiscard]] std::unique_ptr<ScanReader> divide_by_light_frame(std::unique_ptr<ScanReader> shot, std::shared_ptr<const LightAndDark> by);

}  // namespace basefog::scan
