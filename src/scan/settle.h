// SPDX-License-Identifier: GPL-3.0-or-later
// What several sources may say of a scan - an option, the file, or nobody - is settled here for every kind of file.
#pragma once

#include "basefog/scan/options.h"
#include "scan/linearise.h"

#include <vector>

namespace basefog::scan {

/// An option wins over the file's own.
void settle_resolution(ScanInfo& info, std::optional<PixelsPerMm> from_file, const ScanOptions& options);
/// An option wins, then the embedded profile (its bytes, empty for none), then `info.encoding` where its origin is the
/// file, then linear for 16 bits and float, sRGB for 8. Fills the encoding and profile name of `info`, and warns of a guess.
[[nodiscard]] Linearisation settle_encoding(ScanInfo& info, const std::vector<unsigned char>& profile, const ScanOptions& options);
/// Warns of 8 bits and of lossy compression.
void warn_of_limits(ScanInfo& info);

}  // namespace basefog::scan
