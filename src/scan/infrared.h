// SPDX-License-Identifier: GPL-3.0-or-later
// Infrared that lies beside the colours: on a page of its own or in a file of its own.
#pragma once

#include "basefog/scan/reader.h"

namespace basefog::scan {

/// A reader of `colours` whose infrared is the first channel of `infrared`, which has the same size.
/// `from` is what ScanInfo::infrared_from shall say.
[[nodiscard]] std::unique_ptr<ScanReader> pair_with_infrared(std::unique_ptr<ScanReader> colours, std::unique_ptr<ScanReader> infrared,
                                                             const std::string& from);

/// Opens ScanOptions::infrared_path and pairs it. Errors: as open_scan, malformed where the sizes differ.
[[nodiscard]] Result<std::unique_ptr<ScanReader>> add_infrared_file(std::unique_ptr<ScanReader> colours, const ScanOptions& options, Observer& observer);

}  // namespace basefog::scan
