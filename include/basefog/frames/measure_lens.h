// SPDX-License-Identifier: GPL-3.0-or-later
// What the film itself says of a lens: its pictures' edges are straight, and its perforations lie evenly spaced on a straight line.
#pragma once

#include "basefog/core/lens.h"
#include "basefog/frames/types.h"
#include "basefog/scan/types.h"

#include <cstdint>
#include <vector>

namespace basefog {

/// Places on one thing that is straight on the film, as the shot shows them.
struct StraightThing {
    std::vector<PointPx> points;  ///< pixels of the full scan
    double std_px = 1;            ///< of a point, as far as it says something of its own: neighbours share their error
    /// Perforations: the points' places in a row that is evenly spaced, counted in pitches; empty for an edge.
    std::vector<int> places;
};

/// The edges of a close-up's frame and the rows of whole perforations in view; may be empty. `layout` is what the finder found on that overview.
[[nodiscard]] std::vector<StraightThing> trace_straight(const Overview& overview, const SheetLayout& layout);

struct LensFit {
    LensModel lens;      ///< what is to be undone; no bending where `told` is false
    double std_k1 = 0;   ///< standard uncertainty of k1, k2 allowed to vary
    double bent_px = 0;  ///< furthest that the lens moves anything, apart from a change of scale, within the picture
    int things = 0;      ///< edges and rows that it was told from
    bool told = false;   ///< it bends more than chance and imperfect gates do
};

/// The lens that makes them straight and even, for shots of `width` x `height` pixels by one lens at one distance. It cannot tell a gate whose sides
/// are bowed alike on all frames from a lens that bends them, unless perforations are in view; nor a middle of the lens other than the picture's.
[[nodiscard]] LensFit fit_lens(const std::vector<StraightThing>& things, std::int64_t width, std::int64_t height);

}  // namespace basefog
