// SPDX-License-Identifier: GPL-3.0-or-later
// Sheets of rolls drawn by lot: stocks, ages, scanners and lights nobody has seen, and photographs for scenes.
#pragma once

#include "support/synthetic_film.h"

#include <cstdint>
#include <string>
#include <vector>

namespace colour_suite {

/// What the ledger says.
enum class Told {
    nothing,  ///< there is none, but how the scan is encoded
    light,    ///< the stocks' balances, box speeds and processes, the rolls' light and rating
    chart,    ///< and which frame of each roll shows the colour chart
};
inline constexpr int kTold = 3;
[[nodiscard]] std::string name(Told told);

struct Roll {
    std::string id, stock;
    double box_speed = 400, rating = 400;
    double balance_kelvin = 5500, told_light_kelvin = 5500;
    bool crossed = false;
    int chart_frame = 0;
};

struct Rolls {
    synthetic::SheetSpec sheet;
    std::vector<Roll> rolls;
    bool expired = false;  ///< three rolls of an expired stock and one of the same stock fresh; otherwise two rolls of two fresh stocks
};

/// Odd seeds: fresh, even ones: expired. `photographs` are files; each is used once on a sheet while they last.
[[nodiscard]] Rolls draw_rolls(std::uint64_t seed, const std::vector<std::string>& photographs);
[[nodiscard]] std::string ledger(const Rolls& rolls, Told told);

}  // namespace colour_suite
