// SPDX-License-Identifier: GPL-3.0-or-later
// What the three writers look up in a record: lists without doubles, and who belongs to whom.
#pragma once

#include "basefog/report/types.h"

#include <optional>
#include <string>
#include <vector>

namespace basefog::report {

/// Findings of the run, then those of each roll's film that are not among them already; a film finding gets its roll's name.
[[nodiscard]] std::vector<Finding> all_findings(const RunRecord& record);

/// Each once, in order of first appearance among the rolls.
[[nodiscard]] std::vector<const Stock*> all_stocks(const RunRecord& record);
[[nodiscard]] std::vector<const Session*> all_sessions(const RunRecord& record);
[[nodiscard]] std::vector<const Bath*> all_baths(const RunRecord& record);

/// Index into record.rolls, or nullopt.
[[nodiscard]] std::optional<int> find_roll(const RunRecord& record, const std::string& id);
[[nodiscard]] std::optional<int> find_scan(const RunRecord& record, const std::string& file);

/// nullptr when the reference or the place leads nowhere.
[[nodiscard]] const FrameRecord* find_frame(const RunRecord& record, const FrameRef& ref);
[[nodiscard]] const StripRecord* find_strip(const RunRecord& record, const FrameRef& ref);
/// The frame a finding speaks of, by scan, strip and frame index.
[[nodiscard]] std::optional<FrameRef> find_place(const RunRecord& record, const Where& where);

/// The stock's name by whoever knows it; empty when nobody does.
[[nodiscard]] const std::string& stock_name(const RollRecord& roll);

struct Totals {
    int scans = 0, failed_scans = 0, strips = 0, pictures = 0, blank = 0, fogged = 0;
};
[[nodiscard]] Totals count_totals(const RunRecord& record);

/// Only pictures have an exposure; a blank or fogged frame's numbers would mean nothing.
[[nodiscard]] inline bool has_exposure(const FrameRecord& frame) { return frame.box.kind == FrameKind::picture; }

}  // namespace basefog::report
