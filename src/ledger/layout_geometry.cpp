// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/layout_geometry.h"

#include "ledger/constants.h"

#include <fmt/format.h>
#include <algorithm>
#include <numbers>

namespace basefog::ledger_room {
namespace {

double dot(PointPx a, PointPx b) { return a.x * b.x + a.y * b.y; }
double cross(PointPx a, PointPx b) { return a.x * b.y - a.y * b.x; }
PointPx unit(PointPx v) {
    const double length = std::hypot(v.x, v.y);
    return length > 0 ? v * (1 / length) : PointPx{};
}
/// Mean of the two long edges, first to second corner.
PointPx axis_of(const Quad& strip) { return unit((strip[1] - strip[0]) + (strip[2] - strip[3])); }
PointPx across_of(const Quad& strip) { return unit((strip[3] - strip[0]) + (strip[2] - strip[1])); }

}  // namespace

std::optional<std::string> why_not_a_quad(const Quad& corners) {
    for (int i = 0; i < 4; ++i) {
        const double side = distance(corners[i], corners[(i + 1) % 4]);
        if (side < kMinSidePx) return fmt::format("have a side of {:.2f} px, shorter than {} px", side, kMinSidePx);
    }
    int positive = 0, negative = 0;
    for (int i = 0; i < 4; ++i) {
        const PointPx a = corners[i], b = corners[(i + 1) % 4], c = corners[(i + 2) % 4];
        // How far the third point lies off the line through the first two, in pixels.
        const double off = cross(b - a, c - b) / distance(a, b);
        positive += off >= 1;
        negative += off <= -1;
    }
    if (positive == 4 || negative == 4) return std::nullopt;
    if (positive == 2 && negative == 2) return "cross over: two of them are in the wrong order";
    return "do not span an area with four corners that all point outwards";
}

std::optional<Quad> in_reading_order(const Quad& corners, const Quad& strip) {
    const PointPx middle = centre(corners), axis = axis_of(strip), across = across_of(strip);
    Quad ordered{};
    std::array<bool, 4> taken{};
    for (const PointPx& corner : corners) {
        const bool right = dot(corner - middle, axis) > 0, low = dot(corner - middle, across) > 0;
        const std::size_t place = low ? (right ? 2 : 3) : (right ? 1 : 0);
        if (taken[place]) return std::nullopt;
        taken[place] = true;
        ordered[place] = corner;
    }
    return ordered;
}

Quad nudged(const Quad& corners, const Quad& strip, const Nudge& nudge) {
    const PointPx top = unit(corners[1] - corners[0]), bottom = unit(corners[2] - corners[3]);
    const PointPx left = unit(corners[3] - corners[0]), right = unit(corners[2] - corners[1]);
    Quad moved = corners;
    moved[0] = moved[0] - top * nudge.left - left * nudge.top;
    moved[1] = moved[1] + top * nudge.right - right * nudge.top;
    moved[2] = moved[2] + bottom * nudge.right + right * nudge.bottom;
    moved[3] = moved[3] - bottom * nudge.left + left * nudge.bottom;
    const PointPx shift = axis_of(strip) * nudge.along;
    for (PointPx& corner : moved) corner = corner + shift;
    return moved;
}

double strip_angle_deg(const Quad& strip, StripDirection direction) {
    const PointPx axis = axis_of(strip);
    // On a scan, y points down, so a positive turn from +x towards +y is clockwise; from +y it is towards -x.
    const double radians = direction == StripDirection::horizontal ? std::atan2(axis.y, axis.x) : std::atan2(-axis.x, axis.y);
    double degrees = radians * 180 / std::numbers::pi;
    if (degrees > 90) degrees -= 180;
    if (degrees <= -90) degrees += 180;
    return degrees;
}

double along_strip(const Quad& corners, const Quad& strip) { return dot(centre(corners) - strip[0], axis_of(strip)); }

}  // namespace basefog::ledger_room
