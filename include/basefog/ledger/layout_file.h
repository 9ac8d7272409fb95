// SPDX-License-Identifier: GPL-3.0-or-later
// Corrections by hand: the strips and frames of sheets as a TOML file that a person can edit.
#pragma once

#include "basefog/core/result.h"
#include "basefog/frames/types.h"

#include <string>
#include <vector>

namespace basefog {

struct StripNaming {
    std::string roll;
    std::vector<int> numbers;                 ///< of the frames, in reading order
    friend bool operator==(const StripNaming&, const StripNaming&) = default;
};

/// One sheet's layout with names; `file` as in the report.
struct NamedLayout {
    std::string file;
    SheetLayout layout;
    std::vector<StripNaming> names;           ///< as many as layout.strips
};

/// Writes what `read_layouts` reads: full precision of 0.01 px, comments that say how to edit.
[[nodiscard]] std::string layout_text(const std::vector<NamedLayout>& sheets);
/// Errors name line, column, what is wrong and what would be right. Frames come back marked by_hand where they were edited or added.
[[nodiscard]] Result<std::vector<NamedLayout>> read_layouts(const std::string& path);
[[nodiscard]] Result<std::vector<NamedLayout>> parse_layouts(const std::string& text, const std::string& path);

}  // namespace basefog
