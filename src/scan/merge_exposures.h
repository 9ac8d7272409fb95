// SPDX-License-Identifier: GPL-3.0-or-later
// Several shots of the same film, exposed differently, as one.
#pragma once

#include "basefog/scan/reader.h"

namespace basefog::scan {

/// Opens ScanOptions::other_exposures and merges them with the shot in linear light, on the shot's own scale: each pixel is the mean of what the
/// exposures say, weighted by what photons and reading out leave uncertain, without those at white or near one that is. How much more or less
/// light each other got is fitted to the pictures. Errors: as open_scan; malformed where sizes differ or where a shot does not show the same, or moved.
[[nodiscard]] Result<std::unique_ptr<ScanReader>> merge_exposures(std::unique_ptr<ScanReader> shot, const ScanOptions& options, Observer& observer);

}  // namespace basefog::scan
