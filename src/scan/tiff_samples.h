// SPDX-License-Identifier: GPL-3.0-or-later
// The pixels of a TIFF page, by blocks where they are small, by rows where a strip is too large to decode whole.
#pragma once

#include "scan/tiff_page.h"

#include <memory>

namespace basefog::scan {

/// `file` may stand at any page. At most about `memory_bytes` of decoded pixels are kept; `from_the_top`: as in ScanOptions.
[[nodiscard]] Result<std::unique_ptr<SampleSource>> open_samples(std::unique_ptr<TiffFile> file, const TiffPage& page, std::int64_t memory_bytes,
                                                                 bool from_the_top);

/// The limit for single allocations inside the TIFF library.
[[nodiscard]] std::int64_t most_allocation(std::int64_t memory_bytes);

}  // namespace basefog::scan
