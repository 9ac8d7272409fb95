// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/tone.h"

#include "basefog/core/fast_math.h"
#include "basefog/core/wide.h"
#include "invert/constants.h"

#include <algorithm>
#include <cmath>

namespace basefog::invert {
namespace {

/// Light to where the shoulder begins to bend it: the toe only, `black` being the light that is halved. Mid-grey stays.
template <class T>
BASEFOG_INLINE T toe(T x, T black) {
    return x * x * ((T(kMidGrey) + black) / T(kMidGrey)) / (x + black);
}
/// From the knee on, light approaches 1 and never reaches it; slope 1 and curvature 0 at the knee.
template <class T>
BASEFOG_INLINE T shoulder(T x) {
    const T over = (x - T(kToneKnee)) * T(1 / (1 - kToneKnee));
    const T bent = T(kToneKnee) + T(1 - kToneKnee) * over / std::sqrt(T(1) + over * over);
    return over > T(0) ? bent : x;
}
template <class T>
BASEFOG_INLINE T strongest(T r, T g, T b) {
    T most = r > g ? r : g;
    most = most > b ? most : b;
    return most > T(0) ? most : T(0);
}

}  // namespace

Tone::Tone(const InvertOptions& options)
    : gain_(std::exp2(options.exposure.value())),
      contrast_(options.contrast),
      saturation_(options.saturation),
      toe_(kMidGrey * std::exp2(options.black_point.value())) {}

double Tone::curve(double light) const {
    const double x = std::clamp(light * gain_, 0.0, kBrightest);
    return shoulder(toe(contrast_ == 1 ? x : kMidGrey * std::pow(x / kMidGrey, contrast_), toe_));
}

SceneRgb Tone::apply(SceneRgb scene) const {
    const double rgb[3] = {scene.r, scene.g, scene.b};
    const double most = std::min(strongest(rgb[0], rgb[1], rgb[2]), kBrightest);
    if (!(most > 0)) return {};
    const double bent = curve(most);
    const double unbent = toe(contrast_ == 1 ? most * gain_ : kMidGrey * std::pow(most * gain_ / kMidGrey, contrast_), toe_);
    // How far the shoulder holds the light back is how far colour goes to white, gently.
    const double held = unbent > 0 ? 1 - bent / unbent : 0;
    const double whitening = held * held, scale = bent / most;
    double out[3], luminance = 0;
    for (int c = 0; c < 3; ++c) {
        out[c] = rgb[c] * scale;
        out[c] += whitening * (bent - out[c]);
        luminance += kLuminance[c] * out[c];
    }
    for (double& value : out) value = luminance + saturation_ * (value - luminance);
    return {static_cast<float>(out[0]), static_cast<float>(out[1]), static_cast<float>(out[2])};
}

BASEFOG_WIDE void Tone::apply_row(float* r, float* g, float* b, std::int64_t n) const {
    const float gain = static_cast<float>(gain_), contrast = static_cast<float>(contrast_), saturation = static_cast<float>(saturation_),
                black = static_cast<float>(toe_);
    const float pivot = static_cast<float>(std::log2(gain_ / kMidGrey)), brightest = static_cast<float>(kBrightest);
    const float lr = static_cast<float>(kLuminance[0]), lg = static_cast<float>(kLuminance[1]), lb = static_cast<float>(kLuminance[2]);
    constexpr float kNone = 1e-20f;  // keeps a black pixel's 0 / 0 away; far below any light
    const bool straight = contrast_ == 1, as_is = saturation_ == 1;
    constexpr std::int64_t kBlock = 128;
    float most[kBlock], lit[kBlock];
    for (std::int64_t start = 0; start < n; start += kBlock, r += kBlock, g += kBlock, b += kBlock) {
        const std::int64_t m = std::min(kBlock, n - start);
        for (std::int64_t i = 0; i < m; ++i) {
            const float strong = strongest(r[i], g[i], b[i]) + kNone;
            most[i] = strong < brightest ? strong : brightest;
            lit[i] = most[i] * gain;
        }
        if (!straight)
            for (std::int64_t i = 0; i < m; ++i)
                lit[i] = static_cast<float>(kMidGrey) * fast_exp2(std::clamp(contrast * (fast_log2(most[i]) + pivot), -100.0f, 40.0f));
        for (std::int64_t i = 0; i < m; ++i) {
            const float unbent = toe(lit[i], black) + kNone, bent = shoulder(unbent);
            const float held = 1.0f - bent / unbent, whitening = held * held, scale = (1.0f - whitening) * bent / most[i], white = whitening * bent;
            r[i] = r[i] * scale + white;
            g[i] = g[i] * scale + white;
            b[i] = b[i] * scale + white;
        }
        if (!as_is)
            for (std::int64_t i = 0; i < m; ++i) {
                const float luminance = lr * r[i] + lg * g[i] + lb * b[i];
                r[i] = luminance + saturation * (r[i] - luminance);
                g[i] = luminance + saturation * (g[i] - luminance);
                b[i] = luminance + saturation * (b[i] - luminance);
            }
    }
}

}  // namespace basefog::invert
