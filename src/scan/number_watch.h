// SPDX-License-Identifier: GPL-3.0-or-later
// Floating-point samples that are no finite numbers: they are read as black or full scale, and the file's owner is told.
#pragma once

#include "basefog/scan/reader.h"
#include "scan/samples.h"

#include <memory>

namespace basefog::scan {

/// Hands on `samples`, which are of type f32, and sets `met` when one of them is not finite.
[[nodiscard]] std::unique_ptr<SampleSource> watch_numbers(std::unique_ptr<SampleSource> samples, std::shared_ptr<bool> met);
/// Hands on what `reader` reads from such samples, with a warning in its info once `met` is set.
[[nodiscard]] std::unique_ptr<ScanReader> tell_of_numbers(std::unique_ptr<ScanReader> reader, std::shared_ptr<const bool> met);

}  // namespace basefog::scan
