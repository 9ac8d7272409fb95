// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/gamut.h"

#include "basefog/core/wide.h"
#include "invert/constants.h"

#include <algorithm>
#include <cmath>

namespace basefog::invert {
namespace {

/// Chroma as a share of the most the gamut holds, to what it is multiplied by: 1 up to the knee, then the share shown approaches 1 and never reaches it.
/// Slope and curvature run on at the knee.
BASEFOG_INLINE float kept(float share) {
    constexpr float kKnee = static_cast<float>(kGamutKnee);
    const float over = (share - kKnee) * (1.0f / (1.0f - kKnee));
    const float held = kKnee + (1.0f - kKnee) * over / std::sqrt(1.0f + over * over);
    return over > 0.0f ? held / share : 1.0f;
}

BASEFOG_INLINE constexpr float eighth(float x) {
    const float two = x * x, four = two * two;
    return four * four;
}

/// How far a channel has gone from grey towards the gamut's surface: 0 to 1 within it.
BASEFOG_INLINE float way(float value, float grey, float below, float above) {
    constexpr float kFarthest = 1e4f;  // its eighth power is still a float
    const float distance = value - grey, share = distance > 0.0f ? distance * above : -distance * below;
    return share < kFarthest ? share : kFarthest;
}

}  // namespace

Gamut::Gamut(const std::array<std::array<double, 3>, 3>& target_from_srgb) : target_{} {
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t j = 0; j < 3; ++j) target_[i][j] = static_cast<float>(target_from_srgb[i][j]);
}

BASEFOG_WIDE void Gamut::fit_row(float* r, float* g, float* b, std::int64_t n) const {
    constexpr std::int64_t kBlock = 128;
    constexpr float kLeast = 1e-6f;                                              // of room to black or white
    constexpr float kKneeSum = eighth(0.999f * static_cast<float>(kGamutKnee));  // surely below the knee, whatever the roots round to
    const auto m = target_;
    const float lr = static_cast<float>(kLuminance[0]), lg = static_cast<float>(kLuminance[1]), lb = static_cast<float>(kLuminance[2]);
    float greys[kBlock], sums[kBlock];
    for (std::int64_t start = 0; start < n; start += kBlock, r += kBlock, g += kBlock, b += kBlock) {
        const std::int64_t here = std::min(kBlock, n - start);
        int all_fit = 1;
        for (std::int64_t i = 0; i < here; ++i) {
            const float x = m[0][0] * r[i] + m[0][1] * g[i] + m[0][2] * b[i];
            const float y = m[1][0] * r[i] + m[1][1] * g[i] + m[1][2] * b[i];
            const float z = m[2][0] * r[i] + m[2][1] * g[i] + m[2][2] * b[i];
            const float luminance = lr * r[i] + lg * g[i] + lb * b[i], positive = luminance < 0.0f ? 0.0f : luminance;
            const float grey = positive > 1.0f ? 1.0f : positive, room = 1.0f - grey;
            const float below = 1.0f / (grey > kLeast ? grey : kLeast), above = 1.0f / (room > kLeast ? room : kLeast);
            // The largest of three, but smoothly, so that the print has no crease where another channel becomes the nearest: never less than the largest.
            sums[i] = eighth(way(x, grey, below, above)) + eighth(way(y, grey, below, above)) + eighth(way(z, grey, below, above));
            greys[i] = grey;
            all_fit &= static_cast<int>(sums[i] < kKneeSum);
        }
        if (all_fit != 0) continue;
        for (std::int64_t i = 0; i < here; ++i) {
            const float keep = kept(std::sqrt(std::sqrt(std::sqrt(sums[i])))), grey = greys[i];
            const float x = grey + keep * (r[i] - grey), y = grey + keep * (g[i] - grey), z = grey + keep * (b[i] - grey);
            r[i] = keep < 1.0f ? x : r[i];  // what fits is left as it is, to the bit
            g[i] = keep < 1.0f ? y : g[i];
            b[i] = keep < 1.0f ? z : b[i];
        }
    }
}

}  // namespace basefog::invert
