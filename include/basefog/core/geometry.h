// SPDX-License-Identifier: GPL-3.0-or-later
// Positions on a scan. Continuous pixel coordinates: (0, 0) is the image's top-left corner, x to the right,
// y down, so the centre of the first pixel is (0.5, 0.5). Integer rectangles are half-open.
#pragma once

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>

namespace basefog {

/// A continuous position in pixels of the full-resolution, oriented scan unless a name says otherwise.
struct PointPx {
    double x = 0, y = 0;
    friend bool operator==(const PointPx&, const PointPx&) = default;
    friend PointPx operator+(PointPx a, PointPx b) { return {a.x + b.x, a.y + b.y}; }
    friend PointPx operator-(PointPx a, PointPx b) { return {a.x - b.x, a.y - b.y}; }
    friend PointPx operator*(PointPx a, double k) { return {a.x * k, a.y * k}; }
};
[[nodiscard]] inline double distance(PointPx a, PointPx b) { return std::hypot(a.x - b.x, a.y - b.y); }

/// Whole pixels: columns [x0, x1), rows [y0, y1).
struct PxRect {
    std::int64_t x0 = 0, y0 = 0, x1 = 0, y1 = 0;
    friend bool operator==(const PxRect&, const PxRect&) = default;
    [[nodiscard]] std::int64_t width() const { return x1 - x0; }
    [[nodiscard]] std::int64_t height() const { return y1 - y0; }
    [[nodiscard]] bool empty() const { return x1 <= x0 || y1 <= y0; }
};
[[nodiscard]] inline PxRect intersection(PxRect a, PxRect b) {
    return {std::max(a.x0, b.x0), std::max(a.y0, b.y0), std::min(a.x1, b.x1), std::min(a.y1, b.y1)};
}

/// Four corners in the order top-left, top-right, bottom-right, bottom-left *as the picture is read*, that is after
/// the strip has been turned so that it runs from left to right. On a strip that lies vertically (read from its top
/// end downwards) the picture's top-left corner is therefore the scan's top-right one.
using Quad = std::array<PointPx, 4>;

[[nodiscard]] inline PointPx centre(const Quad& q) { return (q[0] + q[1] + q[2] + q[3]) * 0.25; }

/// The smallest whole-pixel rectangle that holds the quad, grown by `margin` pixels.
[[nodiscard]] inline PxRect bounds(const Quad& q, double margin = 0) {
    double x0 = q[0].x, x1 = q[0].x, y0 = q[0].y, y1 = q[0].y;
    for (const PointPx& p : q) {
        x0 = std::min(x0, p.x);
        x1 = std::max(x1, p.x);
        y0 = std::min(y0, p.y);
        y1 = std::max(y1, p.y);
    }
    return {static_cast<std::int64_t>(std::floor(x0 - margin)), static_cast<std::int64_t>(std::floor(y0 - margin)),
            static_cast<std::int64_t>(std::ceil(x1 + margin)), static_cast<std::int64_t>(std::ceil(y1 + margin))};
}

/// Bilinear position inside a quad: (0, 0) its first corner, (1, 0) its second, (1, 1) its third.
[[nodiscard]] inline PointPx inside(const Quad& q, double u, double v) { return (q[0] * (1 - u) + q[1] * u) * (1 - v) + (q[3] * (1 - u) + q[2] * u) * v; }

/// Is the point within the convex quad (edges included)? Either winding.
[[nodiscard]] inline bool contains(const Quad& q, PointPx p) {
    bool any_positive = false, any_negative = false;
    for (int i = 0; i < 4; ++i) {
        const PointPx a = q[i], b = q[(i + 1) % 4];
        const double cross = (b.x - a.x) * (p.y - a.y) - (b.y - a.y) * (p.x - a.x);
        any_positive |= cross > 0;
        any_negative |= cross < 0;
    }
    return !(any_positive && any_negative);
}

}  // namespace basefog
