// SPDX-License-Identifier: GPL-3.0-or-later
// `print = { ... }`: how positives are wanted, the same in ledgers and in settings.
#pragma once

#include "basefog/core/print_choices.h"
#include "ledger/fields.h"

namespace basefog::ledger_room {

/// Whose choices they are: a balance may be a frame's own, or a patch of itself, only where there is a frame.
enum class PrintOf { run, roll, frame };

/// Reads the keys of a table of choices and rejects others.
[[nodiscard]] PrintChoices read_print_keys(Fields& fields, PrintOf of);
/// Reads the key `print` of a roll or frame.
[[nodiscard]] PrintChoices read_print(Fields& owner, PrintOf of);

}  // namespace basefog::ledger_room
