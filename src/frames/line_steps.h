// SPDX-License-Identifier: GPL-3.0-or-later
// Faint straight edges: the middle level of a whole line of cells, set against the clearest line nearby.
#pragma once

#include "evidence.h"

#include <array>
#include <vector>

namespace basefog::frames {

/// Middle density above base of each line of cells, per channel.
struct LineLevels {
    std::vector<std::array<double, 3>> level;
    std::vector<bool> seen;
    std::array<double, 3> noise{};
    double side = 0;
};
[[nodiscard]] LineLevels column_levels(const StripCells& cells, const Rows& rows);
[[nodiscard]] LineLevels row_levels(const StripCells& cells, double u_from, double u_to);

/// Entry i: how surely (0..1) a picture begins (left) or ends (right) between lines i - 1 and i.
struct Steps {
    std::vector<double> left, right;
};
/// `outside`: lines compared outside the edge. The outer side must be as clear as the clearest within `near_mm`:
/// a gap is base, a picture's black seldom quite.
[[nodiscard]] Steps line_steps(const LineLevels& lines, int outside, double near_mm);

/// Straight steps from base to something denser at each column: short blocks of rows find strong edges past dust, tall ones and
/// whole columns fainter ones.
[[nodiscard]] Steps column_steps(const StripCells& cells, const Rows& rows);

/// Entry i: share of the rows in which density steps, up or down, right between columns i - 1 and i and not beside them. Where two pictures
/// meet without a gap, or one begins within another, most rows do.
[[nodiscard]] std::vector<double> column_joints(const StripCells& cells, const Rows& rows);

}  // namespace basefog::frames
