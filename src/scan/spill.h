// SPDX-License-Identifier: GPL-3.0-or-later
// A file that can only be decoded from the top, laid out once on disk in tiles of native samples.
#pragma once

#include "basefog/core/observer.h"
#include "scan/samples.h"

#include <memory>
#include <string>

namespace basefog::scan {

/// Decodes the whole source into a nameless temporary file (it vanishes with the returned source, or with the program)
/// and hands out a source with random access. `folder` empty: the system's. Tells the observer before it starts.
/// Errors: those of the source, unwritable, interrupted.
[[nodiscard]] Result<std::unique_ptr<SampleSource>> spill(SampleSource& source, const std::string& folder, std::int64_t cache_bytes,
                                                          const std::string& scan_path, Observer& observer);

}  // namespace basefog::scan
