// SPDX-License-Identifier: GPL-3.0-or-later
// The page of trends: its parts and plots.
#pragma once

#include "basefog/history/types.h"

#include <string>
#include <string_view>

namespace basefog::report {

struct HistoryPage {
    const HistoryTrends& trends;
    std::string folder;  ///< absolute, of the page
};

/// Link to a roll's place in its report, relative to the page; empty when the roll's report is not known.
[[nodiscard]] std::string report_link(const HistoryPage& page, const HistoryRoll& roll);

/// All lines of a bath along one kind of wear: base + fog, slope, crossover, backing. Empty when there are no points.
[[nodiscard]] std::string bath_plots(const HistoryPage& page, const BathTrend& bath, Wear wear);
/// Backing left of every roll, by wash or tank.
[[nodiscard]] std::string habit_plot(const HistoryPage& page, const std::vector<HabitSummary>& habits);
/// Exposure indices that rolls would have needed, by stock and age.
[[nodiscard]] std::string stock_plot(const HistoryPage& page);

}  // namespace basefog::report
