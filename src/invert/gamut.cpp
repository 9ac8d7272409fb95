// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/gamut.h"

#include "invert/constants.h"

#include <algorithm>
#include <cmath>

namespace basefog::invert {
namespace {

/// Chroma as a share of the most the gamut holds, to what it is multiplied by: 1 up to the knee, then the share shown approaches 1 and never reaches it.
/// Slope and curvature run on at the knee.
float kept(float share) {
    constexpr float kKnee = static_cast<float>(kGamutKnee);
    const float over = (share - kKnee) * (1.0f / (1.0f - kKnee));
    const float held = kKnee + (1.0f - kKnee) * over / std::sqrt(1.0f + over * over);
    return over > 0.0f ? held / share : 1.0f;
}

float eighth(float x) {
    const float two = x * x, four = two * two;
    return four * four;
}

/// How far a channel has gone from grey towards the gamut's surface: 0 to 1 within it.
float way(float value, float grey, float below, float above) {
    constexpr float kFarthest = 1e4f;  // its eighth power is still a float
    const float distance = value - grey, share = distance > 0.0f ? distance * above : -distance * below;
    return share < kFarthest ? share : kFarthest;
}

}  // namespace

Gamut::Gamut(const std::array<std::array<double, 3>, 3>& target_from_srgb) : target_{} {
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j) target_[i][j] = static_cast<float>(target_from_srgb[i][j]);
}

void Gamut::fit_row(float* r, float* g, float* b, std::int64_t n) const {
    constexpr float kLeast = 1e-6f;  // of room to black or white
    const auto& m = target_;
    const float lr = static_cast<float>(kLuminance[0]), lg = static_cast<float>(kLuminance[1]), lb = static_cast<float>(kLuminance[2]);
    for (std::int64_t i = 0; i < n; ++i) {
        const float x = m[0][0] * r[i] + m[0][1] * g[i] + m[0][2] * b[i];
        const float y = m[1][0] * r[i] + m[1][1] * g[i] + m[1][2] * b[i];
        const float z = m[2][0] * r[i] + m[2][1] * g[i] + m[2][2] * b[i];
        const float luminance = lr * r[i] + lg * g[i] + lb * b[i];
        const float grey = luminance < 0.0f ? 0.0f : luminance > 1.0f ? 1.0f : luminance;
        const float below = 1.0f / (grey > kLeast ? grey : kLeast), above = 1.0f / (1.0f - grey > kLeast ? 1.0f - grey : kLeast);
        // The largest of three, but smoothly, so that the print has no crease where another channel becomes the nearest: never less than the largest.
        const float sum = eighth(way(x, grey, below, above)) + eighth(way(y, grey, below, above)) + eighth(way(z, grey, below, above));
        const float share = std::sqrt(std::sqrt(std::sqrt(sum)));
        const float keep = kept(share);
        if (!(keep < 1.0f)) continue;  // what fits is left as it is, to the bit
        r[i] = grey + keep * (r[i] - grey);
        g[i] = grey + keep * (g[i] - grey);
        b[i] = grey + keep * (b[i] - grey);
    }
}

}  // namespace basefog::invert
