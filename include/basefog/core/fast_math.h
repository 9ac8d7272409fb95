// SPDX-License-Identifier: GPL-3.0-or-later
// log2 and exp2 for whole rows: branch-free, so that compilers vectorise the loops around them, and of plain float
// operations only, so that every machine gives the same bits (the library's own may differ between versions).
#pragma once

#include "basefog/core/wide.h"

#include <bit>
#include <cstdint>

namespace basefog {

/// log2 of a positive normal float; absolute error below 3e-7 for |log2 x| <= 4, half an ulp of the result's exponent beyond.
BASEFOG_INLINE float fast_log2(float x) {
    // The mantissa is taken to [sqrt(1/2), sqrt(2)): 0x3f3504f3 is sqrt(1/2).
    const std::int32_t bits = std::bit_cast<std::int32_t>(x);
    const std::int32_t shifted = bits - 0x3f3504f3;
    const std::int32_t exponent = shifted >> 23;
    const float m = std::bit_cast<float>((shifted & 0x007fffff) + 0x3f3504f3);
    // ln m = 2 atanh t, t = (m - 1) / (m + 1), |t| <= 0.1716: five terms leave 1e-9.
    const float t = (m - 1.0f) / (m + 1.0f);
    const float t2 = t * t;
    const float series = 1.0f + t2 * (1.0f / 3 + t2 * (1.0f / 5 + t2 * (1.0f / 7 + t2 * (1.0f / 9))));
    return static_cast<float>(exponent) + 2.8853900817779268f * t * series;  // 2 / ln 2
}

/// 2^x for x in -126..126; relative error below 2e-7.
BASEFOG_INLINE float fast_exp2(float x) {
    const float biased = x + 126.5f;  // positive, so truncation is floor
    const std::int32_t whole = static_cast<std::int32_t>(biased) - 126;
    const float f = (x - static_cast<float>(whole)) * 0.69314718055994531f;  // ln 2; |f| <= 0.35
    const float series = 1.0f + f * (1.0f + f * (1.0f / 2 + f * (1.0f / 6 + f * (1.0f / 24 + f * (1.0f / 120 + f * (1.0f / 720))))));
    return series * std::bit_cast<float>((whole + 127) << 23);
}

}  // namespace basefog
