// SPDX-License-Identifier: GPL-3.0-or-later
// Keys that scans of sheets and shots of frames have in common.
#pragma once

#include "ledger/fields.h"

#include <functional>
#include <string>

namespace basefog::ledger_room {

/// A file named in a ledger, counted from the ledger's folder.
[[nodiscard]] std::string resolved(const std::string& ledger_path, const std::string& file);
/// "linear", "srgb" or a gamma, as text for the same parser as the command line's; empty where not told.
[[nodiscard]] std::string read_encoding(Fields& fields);
/// Hands out the tables of a list in order, numbered from 1; notes what is no list and what is no table. `right`: how it is written.
void each_table(Fields& root, const std::string& key, const std::string& right, Problems& problems,
                const std::function<void(const toml::table& table, std::size_t number)>& read);

}  // namespace basefog::ledger_room
