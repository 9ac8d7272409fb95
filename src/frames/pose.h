// SPDX-License-Identifier: GPL-3.0-or-later
// Where a strip's own millimetres lie on the overview. u runs along the strip in reading order, v across it.
#pragma once

#include "basefog/core/geometry.h"

#include <cmath>
#include <numbers>

namespace basefog::frames {

struct Pose {
    PointPx origin;        ///< overview pixels of (u, v) = (0, 0)
    double angle = 0;      ///< radians, clockwise from +x to +u
    double px_per_mm = 1;  ///< overview pixels

    [[nodiscard]] PointPx px_from_mm(double u, double v) const {
        const double c = std::cos(angle) * px_per_mm, s = std::sin(angle) * px_per_mm;
        return {origin.x + u * c - v * s, origin.y + u * s + v * c};
    }
    [[nodiscard]] PointPx mm_from_px(PointPx p) const {
        const double c = std::cos(angle) / px_per_mm, s = std::sin(angle) / px_per_mm;
        const PointPx d = p - origin;
        return {d.x * c + d.y * s, -d.x * s + d.y * c};
    }
    /// The same origin, turned by a slope dv/du.
    [[nodiscard]] Pose turned(double slope) const { return {origin, angle + std::atan(slope), px_per_mm}; }
};

[[nodiscard]] inline Quad quad_from_mm(const Pose& pose, double u0, double v0, double u1, double v1) {
    return {pose.px_from_mm(u0, v0), pose.px_from_mm(u1, v0), pose.px_from_mm(u1, v1), pose.px_from_mm(u0, v1)};
}
[[nodiscard]] inline double degrees(double radians) { return radians * 180 / std::numbers::pi; }

}  // namespace basefog::frames
