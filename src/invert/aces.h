// SPDX-License-Identifier: GPL-3.0-or-later
// ACES2065-1: the primaries AP0 and their white [SMPTE2065-1], and the way there from linear sRGB. Pure.
#pragma once

#include "basefog/core/image.h"

#include <array>

namespace basefog::invert {

struct Chromaticity {
    double x, y;
};
/// Defined [SMPTE2065-1].
inline constexpr Chromaticity kAp0Red{0.7347, 0.2653}, kAp0Green{0.0, 1.0}, kAp0Blue{0.0001, -0.0770}, kAcesWhite{0.32168, 0.33767};

/// Row-major: AP0 from linear sRGB primaries. A grey stays grey: whites are adapted by the Bradford transform, as the ACES transforms do.
[[nodiscard]] const std::array<std::array<double, 3>, 3>& ap0_from_srgb();
[[nodiscard]] SceneRgb aces_from_linear_srgb(SceneRgb rgb);

}  // namespace basefog::invert
