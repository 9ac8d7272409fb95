// SPDX-License-Identifier: GPL-3.0-or-later
// What the ledger knows of a roll, as plain values for the film stage.
#pragma once

#include "basefog/film/types.h"
#include "basefog/ledger/types.h"

#include <string>

namespace basefog::pipeline {

/// Everything told of the roll and its stock and session; only the id where the ledger does not know it.
[[nodiscard]] RollFacts facts_of_roll(const Ledger& ledger, const std::string& id);
/// What the ledger notes of one of its frames; a picture where it notes nothing.
[[nodiscard]] FrameNote note_of_frame(const Roll& roll, int number);

}  // namespace basefog::pipeline
