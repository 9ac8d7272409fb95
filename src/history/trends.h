// SPDX-License-Identifier: GPL-3.0-or-later
// The parts of find_trends: each asks its questions and leaves the words for when all p values are known.
#pragma once

#include "basefog/history/options.h"
#include "basefog/history/types.h"

#include <functional>
#include <string>
#include <vector>

namespace basefog::history_room {

/// One question asked of the history: where its p value stands, and where the answer goes.
struct Question {
    double p_value = 1;
    double* adjusted = nullptr;
    bool* claimed = nullptr;
};

/// Newest facts of rolls that stand in parts joined into one, oldest session first, whatever the order they came in.
[[nodiscard]] std::vector<HistoryRoll> in_order(std::vector<HistoryRoll> rolls);
/// Rolls of earlier sessions in the same bath, as far as the history knows, where the ledger did not say; days likewise.
void complete_wear(std::vector<HistoryRoll>& rolls);

void find_bath_trends(HistoryTrends& trends, const TrendOptions& options);
void find_habits(HistoryTrends& trends, const TrendOptions& options);
void find_reel_trends(HistoryTrends& trends, const TrendOptions& options);
void find_stocks(HistoryTrends& trends, const TrendOptions& options);

void word_baths(HistoryTrends& trends, const TrendOptions& options);
void word_habits(HistoryTrends& trends, const TrendOptions& options);
void word_reels(HistoryTrends& trends, const TrendOptions& options);
void word_stocks(HistoryTrends& trends, const TrendOptions& options);

/// log10 of the residue's area in percent and a floor.
[[nodiscard]] double log_residue(double area_percent);
/// The exposure index at which the roll would just have kept its shadows: its rating, and what could have been spared of it.
[[nodiscard]] std::optional<double> needed_index(const HistoryRoll& roll);

}  // namespace basefog::history_room
