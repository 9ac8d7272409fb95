// SPDX-License-Identifier: GPL-3.0-or-later
// How much a lens bends.
#pragma once

#include "basefog/core/lens.h"

#include <algorithm>
#include <cmath>

namespace basefog::frames {

/// Furthest that a lens moves anything within the picture beside the change of scale that suits it best, in halves of the diagonal.
[[nodiscard]] inline double bending(const LensModel& lens) {
    constexpr int kSteps = 50;
    double rr = 0, rd = 0, worst = 0;
    const auto moved = [&](double r) { return (lens.k1 + lens.k2 * r * r) * r * r * r; };
    for (int i = 1; i <= kSteps; ++i) {
        const double r = static_cast<double>(i) / kSteps;
        rr += r * r * r, rd += r * r * moved(r);  // weighted by how much of the picture lies there
    }
    for (int i = 1; i <= kSteps; ++i) {
        const double r = static_cast<double>(i) / kSteps;
        worst = std::max(worst, std::abs(moved(r) - rd / rr * r));
    }
    return worst;
}

}  // namespace basefog::frames
