// SPDX-License-Identifier: GPL-3.0-or-later
// What each cell says about being picture or clear film, and sums of it along the strip.
#pragma once

#include "strip_cells.h"

#include <array>
#include <vector>

namespace basefog::frames {

inline constexpr int kShares = 4;

/// log p(density | picture) - log p(density | base) of cells, for each assumed share of picture cells at base level.
class Evidence {
public:
    /// `dirty`: share of clear film that holds dust or residue.
    Evidence(double noise, double dirty);
    [[nodiscard]] double of(double above, int base_share) const;

private:
    [[nodiscard]] double exact(double above, int base_share) const;
    double noise_, dirty_;
    std::array<std::vector<double>, kShares> table_;  ///< by density in eighths of the noise
};
/// Evidence of a cell of bare light inside a picture: as good as impossible. Chosen.
inline constexpr double kNotPicture = -3;

/// Noise of the combined density averaged over blocks of nu x nv cells.
[[nodiscard]] double block_noise(const StripCells& cells, int block_u, int block_v);

/// `at0 + slope u`: where, at u, the picture's upper edge is expected; rows from `from` to `to` mm below it take part.
struct Rows {
    double at0 = 0, slope = 0, from = 0, to = 0;
};
[[nodiscard]] inline int cell_index(double mm, double first, double side) { return static_cast<int>(std::lround((mm - first) / side)); }

/// Sums of evidence per column, cumulated: entry i holds columns before i.
using ColumnSums = std::array<std::vector<double>, kShares>;
[[nodiscard]] ColumnSums column_sums(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty);

/// Share of clear film along the pictures' long edges that is dirty, and its typical density above base.
struct ClearFilm {
    double dirty = 0, level = 0;
};
[[nodiscard]] ClearFilm look_at_clear_film(const StripCells& cells, const Rows& rows, double height);

}  // namespace basefog::frames
