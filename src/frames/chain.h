// SPDX-License-Identifier: GPL-3.0-or-later
// Where frames lie along a strip, estimated together: evidence from every row, an advance that hardly varies.
#pragma once

#include "strip_cells.h"

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

/// Noise of the combined density averaged over blocks of nu x nv cells.
[[nodiscard]] double block_noise(const StripCells& cells, int block_u, int block_v);

struct Slot {
    double u = 0;         ///< mm, where the frame begins
    double evidence = 0;  ///< natural log in favour of a picture
    int share = 0;        ///< index of the share of base-level cells that explains it best
    bool seen = true;     ///< false: put in between or beside seen ones by the advance
};
struct Chain {
    std::vector<Slot> slots;
    double score = 0;
    double advance = 0;  ///< mm, typical
};

/// `line_at`: where, at u, the picture's upper edge is expected; rows from `from` to `to` mm below it take part.
struct Rows {
    double at0 = 0, slope = 0, from = 0, to = 0;
};
[[nodiscard]] Chain find_chain(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, const FindOptions& options);

/// The likeliest place of one more frame within `reach` mm of `u`, whatever its evidence.
[[nodiscard]] Slot slot_near(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, double u, double reach,
                             const FindOptions& options);

/// Share of clear film along the pictures' long edges that is dirty, and its typical density above base.
struct ClearFilm {
    double dirty = 0, level = 0;
};
[[nodiscard]] ClearFilm look_at_clear_film(const StripCells& cells, const Rows& rows, const FindOptions& options);

/// Upper edge of the pictures as a line at0 + slope u, from all frames together.
struct TopLine {
    double at0 = 0, slope = 0;
    double evidence = 0;
};
[[nodiscard]] TopLine find_top(const StripCells& cells, const StripPlace& place, const Chain& chain, double dirty, const FindOptions& options);

}  // namespace basefog::frames
