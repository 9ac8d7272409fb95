// SPDX-License-Identifier: GPL-3.0-or-later
// Turning, scaling and moving in one: how a shot of a flat thing lies on another of it, taken square on.
#pragma once

#include "basefog/core/geometry.h"

#include <cmath>

namespace basefog {

/// p -> (a x - b y, b x + a y) + shift. Scale is hypot(a, b), never 0; the angle from x towards y is atan2(b, a).
struct Similarity {
    double a = 1, b = 0;
    PointPx shift;
    [[nodiscard]] PointPx at(PointPx p) const { return {a * p.x - b * p.y + shift.x, b * p.x + a * p.y + shift.y}; }
    [[nodiscard]] double scale() const { return std::hypot(a, b); }
    [[nodiscard]] double angle() const { return std::atan2(b, a); }
    [[nodiscard]] Similarity inverse() const {
        const double n = a * a + b * b, c = a / n, s = -b / n;
        return {c, s, {-(c * shift.x - s * shift.y), -(s * shift.x + c * shift.y)}};
    }
    /// This one after `first`.
    [[nodiscard]] Similarity after(const Similarity& first) const {
        return {a * first.a - b * first.b, b * first.a + a * first.b, at(first.shift)};
    }
    friend bool operator==(const Similarity&, const Similarity&) = default;
};

}  // namespace basefog
