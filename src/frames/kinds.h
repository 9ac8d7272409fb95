// SPDX-License-Identifier: GPL-3.0-or-later
// What a frame holds: a picture, fog, or nothing.
#pragma once

#include "fit.h"

namespace basefog::frames {

/// Measures a picture's level and calls it fogged if it is dense, even and without detail, or as dense beside the gate.
void tell_kind(const StripCells& cells, FrameFit& f);
/// Beside a stretch of the strip, outside the pictures' long edges: as dense as what lies between them? Then light got there past the gate.
[[nodiscard]] bool fogged_across(const StripCells& cells, const FrameFit& f, double from, double to);
/// For a slot without edges of its own: is there something in it that clear film has not? `only_detail`: its blacks do not count.
[[nodiscard]] bool holds_picture(const StripCells& cells, const FrameFit& f, const ClearFilm& clear, bool only_detail = false);

}  // namespace basefog::frames
