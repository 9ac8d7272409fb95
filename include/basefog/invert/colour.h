// SPDX-License-Identifier: GPL-3.0-or-later
// Colour encodings used to write positives and to judge them: sRGB [IEC61966-2-1], CIE L*a*b* [CIE15], CIEDE2000 [Sharma2005].
#pragma once

#include "basefog/core/image.h"

namespace basefog {

struct Lab {
    double L = 0, a = 0, b = 0;  ///< CIE 1976, white as stated by the maker of the value
};

/// sRGB transfer function, both ways; 0..1 in and out, negative values mirrored. [IEC61966-2-1]
[[nodiscard]] double srgb_encode(double linear);
[[nodiscard]] double srgb_decode(double code);
/// Linear sRGB (D65) to L*a*b* relative to D65. [IEC61966-2-1], [CIE15]
[[nodiscard]] Lab lab_from_linear_srgb(SceneRgb rgb);
/// Colour difference CIEDE2000, kL = kC = kH = 1. [Sharma2005]
[[nodiscard]] double ciede2000(Lab one, Lab other);

}  // namespace basefog
