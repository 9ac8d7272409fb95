// SPDX-License-Identifier: GPL-3.0-or-later
// Where frames lie along a strip, estimated together: evidence from every row, an advance that hardly varies.
#pragma once

#include "evidence.h"

#include <vector>

namespace basefog::frames {

struct Slot {
    double u = 0;                             ///< mm, where the frame begins
    double evidence = 0;                      ///< natural log in favour of a picture
    int share = 0;                            ///< index of the share of base-level cells that explains it best
    bool seen = true;                         ///< false: put in between or beside seen ones by the advance
    bool cut_start = false, cut_end = false;  ///< the film ends within it
};
struct Chain {
    std::vector<Slot> slots;
    double score = 0;
    double advance = 0;  ///< mm, typical
};

[[nodiscard]] Chain find_chain(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, const Gauge& gauge);

/// The format whose chain explains the strip best.
struct FormatChoice {
    Gauge gauge;
    Chain chain;
    double lead = 0;       ///< natural log by which it explains more than the next best
    FormatPrior scores{};  ///< of each format tried, without any prior
};
[[nodiscard]] FormatChoice choose_format(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, const std::vector<Gauge>& gauges,
                                         const FormatPrior& prior);

/// The likeliest place of one more frame within `reach` mm of `u`, whatever its evidence.
[[nodiscard]] Slot slot_near(const StripCells& cells, const StripPlace& place, const Rows& rows, double dirty, double u, double reach, const Gauge& gauge);

}  // namespace basefog::frames
