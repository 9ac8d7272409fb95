// SPDX-License-Identifier: GPL-3.0-or-later
// The numbers a run of the suite is judged by.
#pragma once

#include "frame_suite/outcome.h"

#include <array>
#include <map>
#include <string>
#include <vector>

namespace basefog::suite {

/// What the finder has to keep to.
struct Limits {
    double recall = 0.999, false_per_frame = 0.001;
    double p95_mm = 0.12, worst_mm = 0.35;
    double sure = 0.95, sure_within_mm = 0.25, sure_share = 0.95;
};

/// Of a set of frames.
struct Tally {
    int wanted = 0, found = 0, wrong_kind = 0;
    int not_measurable = 0;  ///< found, but edges that do not show leave its place open: left out of the errors
    std::vector<double> errors_mm;
    void add(const FrameOutcome& frame);
    [[nodiscard]] double recall() const { return wanted > 0 ? static_cast<double>(found) / wanted : 1; }
    /// 0 <= share <= 1; 0 without errors. Nearest rank.
    [[nodiscard]] double quantile_mm(double share) const;
};

/// Frames by the confidence they were given, and how many kept what it promises.
struct Bin {
    double from = 0;
    int given = 0, kept = 0;
};

struct Summary {
    Tally all;
    std::map<std::string, Tally> by_difficulty;
    int false_pictures = 0, false_others = 0;  ///< finds that nothing on the sheet explains
    int blanks = 0, blanks_found = 0, fogged = 0, fogged_found = 0;
    int kind_known = 0, kind_wrong = 0;  ///< over every frame found, whatever its truth
    std::array<Bin, 5> bins{{{0.0}, {0.5}, {0.8}, {0.95}, {0.99}}};
    int sure = 0, sure_kept = 0;
    std::vector<std::pair<std::uint64_t, std::string>> failures;
    std::vector<std::uint64_t> worst;  ///< seeds, the worst first
    double draw_seconds = 0, find_seconds = 0;
    int sheets = 0;
};

[[nodiscard]] Summary summarise(const std::vector<SheetOutcome>& sheets, const Limits& limits = {});

/// Sentences for each limit that is not kept; empty when all are.
[[nodiscard]] std::vector<std::string> broken_limits(const Summary& summary, const Limits& limits = {});

}  // namespace basefog::suite
