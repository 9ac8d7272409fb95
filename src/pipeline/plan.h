// SPDX-License-Identifier: GPL-3.0-or-later
// What is to be done: which sheets, what the ledger and the layout file say of each, and which belong together.
#pragma once

#include "basefog/ledger/layout_file.h"
#include "basefog/pipeline/run.h"

#include <optional>
#include <string>
#include <vector>

namespace basefog::pipeline {

struct SheetPlan {
    std::string file;  ///< as named by the person; shown in the report
    std::string path;  ///< where it is
    std::string stem;  ///< safe and unique among the run's sheets; names result files
    ScanOptions scan;
    std::optional<Sheet> sheet;         ///< the ledger's entry
    std::optional<NamedLayout> layout;  ///< corrections by hand
    bool close_up = false;              ///< a camera's shot of one frame
    bool strip_shots = false;           ///< a camera's shot of a part of a strip, or several that are joined
    std::vector<std::string> shots{};   ///< files of a strip that is joined, as named; empty for all else
    std::vector<ShotRecord> joined{};   ///< what joining found, lengths in pixels; filled when the shots were looked at
    std::optional<PixelsPerMm> about{};  ///< scale of a shot of a strip, or of the joined picture, to a per cent, where perforations told it
    std::optional<Error> unusable{};    ///< why the shots could not be joined
};

/// Sheets that share a roll form a group, as what is pooled over a roll needs all of them; so do sheets with rolls of one stock, while memory
/// lasts. Groups are in order of first sheet.
struct Plan {
    std::vector<SheetPlan> sheets;
    std::vector<std::vector<int>> groups;  ///< indices into `sheets`
    std::vector<Finding> findings;         ///< e.g. a scan the ledger does not know
};

/// Errors: usage (nothing to do, a layout that names no sheet of the run), and those of reading the layout file.
[[nodiscard]] Result<Plan> make_plan(const RunOptions& options);

/// The rolls whose strips lie on a sheet, as far as that is told before looking.
[[nodiscard]] std::vector<std::string> rolls_on(const SheetPlan& sheet);

/// Roll and frame numbers of a sheet's strips, from its layout file, else the ledger, else named by sheet and strip.
/// Adds a finding where the ledger lists another number of strips.
[[nodiscard]] std::vector<StripNaming> name_strips(const SheetPlan& plan, const SheetLayout& layout, std::vector<Finding>& findings);

/// A name that is safe as part of a file name on any system: letters, digits, '.', '_' and '-', not leading with '.'.
[[nodiscard]] std::string safe_name(const std::string& text);

}  // namespace basefog::pipeline
