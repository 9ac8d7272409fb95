// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/frames/types.h"
#include "frame_suite/outcome.h"
#include "support/synthetic_film.h"

#include <string>

namespace basefog::suite {

/// A PNG of the sheet: the truth in green (yellow where blank or fogged), what was found in red with its confidence, and
/// below it the difficulties. Throws std::runtime_error when it cannot be written.
void write_picture(const std::string& path, const synthetic::Sheet& sheet, const SheetLayout& layout, const SheetOutcome& outcome);

}  // namespace basefog::suite
