// SPDX-License-Identifier: GPL-3.0-or-later
// Tone: scene-linear light to display-linear light, by a curve of the strongest channel, so that hue stays. See docs/stages/invert.md.
#pragma once

#include "basefog/core/image.h"
#include "basefog/invert/options.h"

#include <cstdint>

namespace basefog::invert {

class Tone {
public:
    explicit Tone(const InvertOptions& options);
    /// The curve alone: a neutral's light to its displayed light, [0, inf) to [0, 1).
    [[nodiscard]] double curve(double light) const;
    [[nodiscard]] SceneRgb apply(SceneRgb scene) const;
    /// The same for rows with their channels apart, in place.
    void apply_row(float* r, float* g, float* b, std::int64_t n) const;

private:
    double gain_, contrast_, saturation_;
    double toe_;  ///< light that a print's black halves
};

}  // namespace basefog::invert
