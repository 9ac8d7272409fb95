// SPDX-License-Identifier: GPL-3.0-or-later
// Where a strip's own millimetres lie on the overview. u runs along the strip in reading order, v across it, from an axis
// that may bow: a parabola, touched by the straight direction at u = 0. A strip deflected at its middle like a thin beam follows one closely.
#pragma once

#include "basefog/core/geometry.h"

#include <cmath>
#include <numbers>

namespace basefog::frames {

class Pose {
public:
    Pose() = default;
    /// `origin`: overview pixels of (u, v) = (0, 0); `angle`: radians, clockwise from +x to +u at the origin;
    /// `curve`: the axis lies at curve u^2 to the right of the straight direction, 1/mm.
    Pose(PointPx origin, double angle, double px_per_mm, double curve = 0)
        : origin_(origin), angle_(angle), px_per_mm_(px_per_mm), curve_(curve), cos_(std::cos(angle)), sin_(std::sin(angle)) {}

    [[nodiscard]] double angle() const { return angle_; }
    [[nodiscard]] double px_per_mm() const { return px_per_mm_; }  ///< overview pixels
    [[nodiscard]] double curve() const { return curve_; }
    /// To first order in the bow's slope, which stays under a hundredth: across is square to the axis, along is measured on it.
    [[nodiscard]] PointPx px_from_mm(double u, double v) const {
        const double a = u - 2 * curve_ * u * v, b = v + curve_ * u * u;
        return {origin_.x + px_per_mm_ * (a * cos_ - b * sin_), origin_.y + px_per_mm_ * (a * sin_ + b * cos_)};
    }
    [[nodiscard]] PointPx mm_from_px(PointPx p) const {
        const PointPx d = (p - origin_) * (1 / px_per_mm_);
        const double a = d.x * cos_ + d.y * sin_, b = -d.x * sin_ + d.y * cos_;
        double u = a;
        for (int pass = 0; pass < 2; ++pass) u = a + 2 * curve_ * u * (b - curve_ * u * u);
        return {u, b - curve_ * u * u};
    }
    /// The same origin, turned by a slope dv/du and bent by more curve.
    [[nodiscard]] Pose turned(double slope, double curve = 0) const { return {origin_, angle_ + std::atan(slope), px_per_mm_, curve_ + curve}; }

private:
    PointPx origin_;
    double angle_ = 0, px_per_mm_ = 1, curve_ = 0, cos_ = 1, sin_ = 0;
};

[[nodiscard]] inline Quad quad_from_mm(const Pose& pose, double u0, double v0, double u1, double v1) {
    return {pose.px_from_mm(u0, v0), pose.px_from_mm(u1, v0), pose.px_from_mm(u1, v1), pose.px_from_mm(u0, v1)};
}
[[nodiscard]] inline double degrees(double radians) { return radians * 180 / std::numbers::pi; }

}  // namespace basefog::frames
