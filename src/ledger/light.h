// SPDX-License-Identifier: GPL-3.0-or-later
// Names of lights and of colour filters.
#pragma once

#include "basefog/core/units.h"

#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace basefog::ledger_room {

[[nodiscard]] std::optional<Kelvin> light_by_name(std::string_view name);
[[nodiscard]] std::vector<std::string> light_names();

/// Shift in mired (10^6 / K), positive is warming. Understands designations of the 80 to 85 series ("85B", also with
/// a neutral part, "85N6"), amber and blue filters named by tenths of their mired ("KR 12", "LBB-8"), several of them
/// joined by "+" (shifts add), and "none".
[[nodiscard]] std::optional<double> filter_by_name(std::string_view name);
[[nodiscard]] std::vector<std::string> filter_names();

}  // namespace basefog::ledger_room
