// SPDX-License-Identifier: GPL-3.0-or-later
// Quads as people write them: is it one, in which order, moved by how much.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/frames/types.h"

#include <optional>
#include <string>

namespace basefog::ledger_room {

/// Pixels by which each edge moves outwards (negative: inwards) and the whole frame along its strip.
struct Nudge {
    double left = 0, top = 0, right = 0, bottom = 0, along = 0;
    friend bool operator==(const Nudge&, const Nudge&) = default;
};

/// Why these corners are no area one could cut out; nullopt when they are: convex in the order given, no side too short.
[[nodiscard]] std::optional<std::string> why_not_a_quad(const Quad& corners);

/// The four corners in read order as their strip is read, whatever order they came in; nullopt when they do not
/// lie in the four quarters around their centre.
[[nodiscard]] std::optional<Quad> in_reading_order(const Quad& corners, const Quad& strip);

[[nodiscard]] Quad nudged(const Quad& corners, const Quad& strip, const Nudge& nudge);

/// As StripBox::angle_deg: of the undirected axis, in (-90, 90].
[[nodiscard]] double strip_angle_deg(const Quad& strip, StripDirection direction);

/// Place of the quad's centre along the strip, in pixels.
[[nodiscard]] double along_strip(const Quad& corners, const Quad& strip);

}  // namespace basefog::ledger_room
