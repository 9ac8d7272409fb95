// SPDX-License-Identifier: GPL-3.0-or-later
// Where a strip's own millimetres lie on the overview. u runs along the strip in reading order, v across it.
#pragma once

#include "basefog/core/geometry.h"

#include <cmath>
#include <numbers>

namespace basefog::frames {

class Pose {
public:
    Pose() = default;
    /// `origin`: overview pixels of (u, v) = (0, 0); `angle`: radians, clockwise from +x to +u.
    Pose(PointPx origin, double angle, double px_per_mm)
        : origin_(origin), angle_(angle), px_per_mm_(px_per_mm), cos_(std::cos(angle)), sin_(std::sin(angle)) {}

    [[nodiscard]] double angle() const { return angle_; }
    [[nodiscard]] double px_per_mm() const { return px_per_mm_; }  ///< overview pixels
    [[nodiscard]] PointPx px_from_mm(double u, double v) const {
        return {origin_.x + px_per_mm_ * (u * cos_ - v * sin_), origin_.y + px_per_mm_ * (u * sin_ + v * cos_)};
    }
    [[nodiscard]] PointPx mm_from_px(PointPx p) const {
        const PointPx d = (p - origin_) * (1 / px_per_mm_);
        return {d.x * cos_ + d.y * sin_, -d.x * sin_ + d.y * cos_};
    }
    /// The same origin, turned by a slope dv/du.
    [[nodiscard]] Pose turned(double slope) const { return {origin_, angle_ + std::atan(slope), px_per_mm_}; }

private:
    PointPx origin_;
    double angle_ = 0, px_per_mm_ = 1, cos_ = 1, sin_ = 0;
};

[[nodiscard]] inline Quad quad_from_mm(const Pose& pose, double u0, double v0, double u1, double v1) {
    return {pose.px_from_mm(u0, v0), pose.px_from_mm(u1, v0), pose.px_from_mm(u1, v1), pose.px_from_mm(u0, v1)};
}
[[nodiscard]] inline double degrees(double radians) { return radians * 180 / std::numbers::pi; }

}  // namespace basefog::frames
