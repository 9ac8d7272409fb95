// SPDX-License-Identifier: GPL-3.0-or-later
// One random sheet through the library: drawn, written as a file, opened, reduced, searched.
#pragma once

#include "frame_suite/outcome.h"

#include <cstdint>
#include <string>

namespace basefog::suite {

/// `folder` takes the scan while it is needed. With `picture`, a PNG of the sheet with truth and finds is written there.
[[nodiscard]] SheetOutcome try_sheet(std::uint64_t seed, const std::string& folder, const std::string& picture = {});

/// Draws the sheet and writes `<folder>/sheet-<seed>.tif` and `.truth.json`; nothing is searched.
void write_sheet(std::uint64_t seed, const std::string& folder);

}  // namespace basefog::suite
