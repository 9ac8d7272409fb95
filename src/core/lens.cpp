// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/lens.h"

#include <algorithm>
#include <cmath>

namespace basefog {

LensView::LensView(const LensModel& lens, std::int64_t width, std::int64_t height)
    : lens_(lens), middle_{0.5 * static_cast<double>(width), 0.5 * static_cast<double>(height)}, half_(std::hypot(middle_.x, middle_.y)) {}

PointPx LensView::seen(PointPx perfect) const {
    const PointPx u = (perfect - middle_) * (1 / half_);
    const double r2 = u.x * u.x + u.y * u.y;
    return middle_ + u * ((1 + (lens_.k1 + lens_.k2 * r2) * r2) * half_);
}

PointPx LensView::perfect(PointPx seen) const {
    const PointPx d = (seen - middle_) * (1 / half_);
    const double wanted = std::hypot(d.x, d.y);
    if (wanted == 0) return seen;
    constexpr int kMostSteps = 8;  // Newton's: the fifth changes nothing any more
    double r = wanted;
    for (int i = 0; i < kMostSteps; ++i) {
        const double r2 = r * r, off = r * (1 + (lens_.k1 + lens_.k2 * r2) * r2) - wanted, slope = 1 + (3 * lens_.k1 + 5 * lens_.k2 * r2) * r2;
        r -= off / std::max(slope, 0.1);
    }
    return middle_ + d * (r / wanted * half_);
}

bool is_sound(const LensModel& lens) {
    // What is further out must be seen further out, all over the picture and a little beyond; and by a tenth at most.
    constexpr double kFurthest = 1.1, kMostBent = 0.1;
    for (double r = 0; r <= kFurthest; r += 0.05) {
        const double r2 = r * r;
        if (!(1 + (3 * lens.k1 + 5 * lens.k2 * r2) * r2 > 0.5) || !(std::abs((lens.k1 + lens.k2 * r2) * r2) <= kMostBent * kFurthest * kFurthest)) return false;
    }
    return true;
}

}  // namespace basefog
