// SPDX-License-Identifier: GPL-3.0-or-later
// What the rolls of a history say together. Pure: the same rolls in any order give the same trends.
#pragma once

#include "basefog/history/options.h"
#include "basefog/history/types.h"

#include <optional>
#include <string>
#include <vector>

namespace basefog {

/// docs/history.md says how. Errors: options out of range.
[[nodiscard]] Result<HistoryTrends> find_trends(std::vector<HistoryRoll> rolls, const TrendOptions& options);

/// Slopes of earlier rolls of the stock in the process ("" stands for rolls whose process is not told), each layer's robust mean
/// and the spread to expect of the next roll. nullopt with fewer than three measured rolls.
[[nodiscard]] std::optional<EarlierSlopes> earlier_curve(const std::vector<HistoryRoll>& rolls, const std::string& stock, const std::string& process);
/// Mean over the charts photographed on earlier rolls of the stock in the process; none without one.
[[nodiscard]] std::optional<EarlierColour> earlier_colour(const std::vector<HistoryRoll>& rolls, const std::string& stock, const std::string& process);

/// "sodium carbonate 10 g/l, 40 °C, 2 min, 4 rinses"; empty when no wash is told.
[[nodiscard]] std::string wash_recipe(const HistoryRoll& roll);
/// "dev-a", or "dev-a, mixed 2026-03-01" where the day is told: two litres of one name are two baths.
[[nodiscard]] std::string bath_name(const HistoryRoll& roll);
/// The value followed, or nullopt where it was not measured or means nothing (base without bare light, crossover of silver).
[[nodiscard]] std::optional<double> measured(const HistoryRoll& roll, Measure measure);
/// "blue base + fog"
[[nodiscard]] std::string name_of(Measure measure);

}  // namespace basefog
