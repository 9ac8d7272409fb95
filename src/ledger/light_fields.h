// SPDX-License-Identifier: GPL-3.0-or-later
// A light as it is written in a table.
#pragma once

#include "ledger/fields.h"

#include <optional>
#include <string_view>

namespace basefog::ledger_room {

/// A light by name, or kelvin.
[[nodiscard]] std::optional<Kelvin> colour_temperature(Fields& fields, std::string_view key);

}  // namespace basefog::ledger_room
