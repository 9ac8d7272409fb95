// SPDX-License-Identifier: GPL-3.0-or-later
// Keys that scans of sheets and shots of frames have in common.
#pragma once

#include "ledger/fields.h"

#include <string>

namespace basefog::ledger_room {

/// A file named in a ledger, counted from the ledger's folder.
[[nodiscard]] std::string resolved(const std::string& ledger_path, const std::string& file);
/// "linear", "srgb" or a gamma, as text for the same parser as the command line's; empty where not told.
[[nodiscard]] std::string read_encoding(Fields& fields);

}  // namespace basefog::ledger_room
