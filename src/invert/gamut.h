// SPDX-License-Identifier: GPL-3.0-or-later
// Colours a print cannot hold, brought within what it can: luminance and hue stay, chroma gives way, smoothly. See docs/stages/invert.md.
#pragma once

#include <array>
#include <cstdint>

namespace basefog::invert {

class Gamut {
public:
    /// `target_from_srgb`: row-major, linear light of linear sRGB primaries to the target's, whose gamut is 0..1. Greys stay greys.
    explicit Gamut(const std::array<std::array<double, 3>, 3>& target_from_srgb = {{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}});
    /// `n` pixels of linear sRGB primaries with their channels apart, in place. Any finite input; NaN stays NaN or becomes 0.
    void fit_row(float* r, float* g, float* b, std::int64_t n) const;

private:
    std::array<std::array<float, 3>, 3> target_;
};

}  // namespace basefog::invert
