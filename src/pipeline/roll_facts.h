// SPDX-License-Identifier: GPL-3.0-or-later
// What the ledger knows of a roll, as plain values for the film stage.
#pragma once

#include "basefog/film/types.h"
#include "basefog/history/types.h"
#include "basefog/ledger/types.h"

#include <string>
#include <vector>

namespace basefog::pipeline {

/// Everything told of the roll and its stock and session; only the id where the ledger does not know it.
[[nodiscard]] RollFacts facts_of_roll(const Ledger& ledger, const std::string& id);
/// Adds what earlier rolls of the stock in the process showed: curve, and colour where a chart was photographed. Rolls named in `now`
/// are being measured, and are no evidence for themselves.
void add_history(RollFacts& facts, const std::vector<HistoryRoll>& history, const std::vector<std::string>& now);
/// What the ledger notes of one of its frames; a picture where it notes nothing.
[[nodiscard]] FrameNote note_of_frame(const Roll& roll, int number);

}  // namespace basefog::pipeline
