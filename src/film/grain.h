// SPDX-License-Identifier: GPL-3.0-or-later
// Noise of 0.1 mm spots against density.
#pragma once

#include "basefog/film/types.h"

#include <vector>

namespace basefog::film {

/// From the flattest parts of the pictures, by density; the first point is the base itself (`spot_noise`). Channels are taken
/// apart: a point's densities need not be reached together.
[[nodiscard]] std::vector<GrainPoint> measure_grain(const RollSamples& roll);

/// Noise of one channel at any density, between the points and held beyond them; grows as assumed where there is only the base.
class NoiseCurve {
public:
    NoiseCurve(const std::vector<GrainPoint>& points, int channel);
    [[nodiscard]] double at(double density) const;

private:
    std::vector<std::pair<double, double>> points_;
};

}  // namespace basefog::film
