// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/resample.h"

#include "basefog/core/assert.h"
#include "basefog/core/wide.h"
#include "invert/constants.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdlib>
#include <cstring>
#include <numbers>

namespace basefog::invert {
namespace {

/// Floats the compiler keeps in one register: a pixel (red, green, blue, infrared), and two of them.
typedef float Four __attribute__((vector_size(16)));
typedef float Eight __attribute__((vector_size(32)));

/// A phase's weights; two more, so that they are loaded as they lie.
struct alignas(32) Taps {
    float weight[8] = {};
};

/// Lanczos windowed sinc, each phase scaled to sum 1. Phase 0 is one tap of exactly 1: whole-pixel positions are copied.
struct KernelTable {
    std::array<Taps, kKernelPhases + 1> phases{};
    KernelTable() {
        for (int p = 0; p <= kKernelPhases; ++p) {
            std::array<double, kKernelTaps> weights{};
            double sum = 0;
            for (int t = 0; t < kKernelTaps; ++t) {
                const double x = std::numbers::pi * (t - (kKernelRadius - 1) - p / double(kKernelPhases));
                const bool centre = std::fabs(x) < 1e-9, zero = p == 0 || p == kKernelPhases;
                weights[t] = centre ? 1 : zero ? 0 : std::sin(x) / x * std::sin(x / kKernelRadius) / (x / kKernelRadius);
                sum += weights[t];
            }
            for (int t = 0; t < kKernelTaps; ++t) phases[p].weight[t] = static_cast<float>(weights[t] / sum);
        }
    }
};
const KernelTable& kernel() {
    static const KernelTable table;
    return table;
}

/// Where a position falls: the first of its taps, counted in pixels, and its phase.
struct Place {
    std::int32_t first;
    std::int32_t phase;
};
/// Positions far outside are brought near the picture: all of its edge looks the same from there.
BASEFOG_INLINE Place place(double position, double length) {
    constexpr int kOutside = 8;
    const double above = position > -double(kOutside) ? position : -double(kOutside), held = above < length + kOutside ? above : length + kOutside;
    const double at = held - 0.5 + 2 * kOutside;  // positive, so truncation is floor
    const auto whole = static_cast<std::int32_t>(at);
    return {whole - (kKernelRadius - 1) - 2 * kOutside, static_cast<std::int32_t>((at - static_cast<double>(whole)) * kKernelPhases + 0.5)};
}

/// (By reference, as the two compilations would hand such a value over differently.)
BASEFOG_INLINE void load(Eight& value, const float* a, const float* b) {
    Four low, high;
    std::memcpy(&low, a, sizeof low);
    std::memcpy(&high, b, sizeof high);
    value = __builtin_shufflevector(low, high, 0, 1, 2, 3, 4, 5, 6, 7);
}

/// Two pixels: weighted sums of the taps from `a` and from `b` on, `step` floats from one to the next. Each is held within its four nearest samples: a
/// windowed sinc overshoots beside dust and hard edges, and in a negative's dense parts even a small overshoot below would be many times the light there.
BASEFOG_INLINE void interpolate(const float* a, const float* b, std::int64_t step, const Taps& of_a, const Taps& of_b, float* out) {
    static_assert(kKernelTaps == 6);
    Eight w, w4, s0, s1, s2, s3, s4, s5;
    load(w, of_a.weight, of_b.weight);
    load(w4, of_a.weight + 4, of_b.weight + 4);
    load(s0, a, b);
    load(s1, a + step, b + step);
    load(s2, a + 2 * step, b + 2 * step);
    load(s3, a + 3 * step, b + 3 * step);
    load(s4, a + 4 * step, b + 4 * step);
    load(s5, a + 5 * step, b + 5 * step);
    Eight sum = s0 * __builtin_shufflevector(w, w, 0, 0, 0, 0, 4, 4, 4, 4);
    sum += s1 * __builtin_shufflevector(w, w, 1, 1, 1, 1, 5, 5, 5, 5);
    sum += s2 * __builtin_shufflevector(w, w, 2, 2, 2, 2, 6, 6, 6, 6);
    sum += s3 * __builtin_shufflevector(w, w, 3, 3, 3, 3, 7, 7, 7, 7);
    sum += s4 * __builtin_shufflevector(w4, w4, 0, 0, 0, 0, 4, 4, 4, 4);
    sum += s5 * __builtin_shufflevector(w4, w4, 1, 1, 1, 1, 5, 5, 5, 5);
    const Eight left_low = s1 < s2 ? s1 : s2, right_low = s3 < s4 ? s3 : s4, low = left_low < right_low ? left_low : right_low;
    const Eight left_high = s1 > s2 ? s1 : s2, right_high = s3 > s4 ? s3 : s4, high = left_high > right_high ? left_high : right_high;
    const Eight below = sum < high ? sum : high, held = below > low ? below : low;
    std::memcpy(out, &held, sizeof held);
}

double or_zero(double value) { return std::isfinite(value) ? value : 0; }

}  // namespace

Resampler::Resampler(PxRect rect, const Quad& corners, PositiveSize size) : rect_(rect), size_(size) {
    const PointPx along = (corners[1] - corners[0]) + (corners[2] - corners[3]);
    sideways_ = std::fabs(along.y) > std::fabs(along.x);
    length_ = sideways_ ? rect.height() : rect.width();
    depth_ = sideways_ ? rect.width() : rect.height();
    for (std::int64_t x = 0; x < size.width; ++x) {
        const double u = (double(x) + 0.5) / double(size.width);
        const PointPx origin{double(rect.x0), double(rect.y0)};
        const PointPx top = inside(corners, u, 0) - origin, bottom = inside(corners, u, 1) - origin;
        const double i0 = sideways_ ? top.y : top.x, i1 = sideways_ ? bottom.y : bottom.x;
        const double j0 = sideways_ ? top.x : top.y, j1 = sideways_ ? bottom.x : bottom.y;
        const double slope = or_zero((i1 - i0) / (j1 - j0));
        all_.start.push_back(or_zero(j0));
        all_.rise.push_back(or_zero(j1 - j0));
        all_.along.push_back(or_zero(i0 - slope * j0));
        all_.slope.push_back(slope);
    }
}

PxRect Resampler::turn_to(std::int64_t x0, std::int64_t columns, std::int64_t y0, std::int64_t rows) {
    BASEFOG_ASSERT(columns <= kColumns);
    x0_ = x0;
    columns_ = columns;
    stride_ = columns + columns % 2;  // columns are done by twos
    first_.assign(static_cast<std::size_t>(columns), 0);
    std::int64_t taps = 0;
    const double v0 = (double(y0) + 0.5) / double(size_.height), v1 = (double(y0 + rows) - 0.5) / double(size_.height);
    const double* const start = all_.start.data() + x0;
    const double* const rise = all_.rise.data() + x0;
    for (std::int64_t x = 0; x < columns; ++x) {
        const Place a = place(start[x] + rise[x] * v0, double(depth_)), b = place(start[x] + rise[x] * v1, double(depth_));
        first_[static_cast<std::size_t>(x)] = std::min(a.first, b.first);
        taps = std::max<std::int64_t>(taps, std::abs(a.first - b.first) + kKernelTaps);
    }
    taps_ = taps;
    // Along a column the place on a row moves evenly, so its ends tell how far it goes.
    std::int64_t i0 = length_, i1 = 0, j0 = depth_, j1 = 0;
    const auto held = [](std::int64_t at, std::int64_t size) { return std::clamp<std::int64_t>(at, 0, size - 1); };
    for (std::int64_t x = 0; x < columns; ++x) {
        const std::int64_t first = first_[static_cast<std::size_t>(x)];
        for (const std::int64_t j : {first, first + taps_ - 1}) {
            const Place at =
                place(all_.along[static_cast<std::size_t>(x0 + x)] + all_.slope[static_cast<std::size_t>(x0 + x)] * (double(j) + 0.5), double(length_));
            i0 = std::min(i0, held(at.first, length_));
            i1 = std::max(i1, held(at.first + kKernelTaps - 1, length_) + 1);
            j0 = std::min(j0, held(j, depth_));
            j1 = std::max(j1, held(j, depth_) + 1);
        }
    }
    window_i_ = i0;
    window_j_ = j0;
    return sideways_ ? PxRect{rect_.x0 + j0, rect_.y0 + i0, rect_.x0 + j1, rect_.y0 + i1} : PxRect{rect_.x0 + i0, rect_.y0 + j0, rect_.x0 + i1, rect_.y0 + j1};
}

void Resampler::prepare(View<const LinearRgbi> pixels) {
    between_.resize(static_cast<std::size_t>(taps_ * stride_));
    for (std::int64_t k = 0; k < taps_; ++k) prepare_row(k, pixels);
}

/// Row k of those between: each column at its own j, interpolated along i.
BASEFOG_WIDE void Resampler::prepare_row(std::int64_t k, View<const LinearRgbi> pixels) {
    const std::int64_t step_i = 4 * (sideways_ ? pixels.stride() : 1), step_j = 4 * (sideways_ ? 1 : pixels.stride());  // floats from pixel to pixel
    const float* const origin = &pixels.data()->r;
    const double* const along = all_.along.data() + x0_;
    const double* const slope = all_.slope.data() + x0_;
    const std::int32_t* const lowest = first_.data();
    const double length = double(length_);
    const auto row = static_cast<std::int32_t>(k), last = static_cast<std::int32_t>(depth_ - 1);
    std::int32_t across[kColumns], first[kColumns], phase[kColumns], least = kKernelTaps, most = 0;
    const auto n = static_cast<std::int32_t>(columns_);
    for (std::int32_t x = 0; x < n; ++x) {
        const std::int32_t j = lowest[x] + row;
        const Place at = place(along[x] + slope[x] * (double(j) + 0.5), length);
        const std::int32_t within = j > 0 ? j : 0;
        across[x] = within < last ? within : last;
        first[x] = at.first;
        phase[x] = at.phase;
        least = at.first < least ? at.first : least;
        most = at.first > most ? at.first : most;
    }
    const Taps* const phases = kernel().phases.data();
    float* const out = &between_.data()[k * stride_].r;
    const auto line = [&](std::int32_t x) { return origin + (across[x] - window_j_) * step_j; };
    if (least >= 0 && most + kKernelTaps <= length_) {
        for (std::int32_t x = 0; x < n; x += 2) {
            const std::int32_t next = x + 1 < n ? x + 1 : x;
            interpolate(line(x) + (first[x] - window_i_) * step_i, line(next) + (first[next] - window_i_) * step_i, step_i, phases[phase[x]],
                        phases[phase[next]], out + 4 * x);
        }
        return;
    }
    // Near the scan's edge, which is repeated.
    for (std::int32_t x = 0; x < n; x += 2) {
        float taps[2][4 * kKernelTaps];
        const std::int32_t next = x + 1 < n ? x + 1 : x;
        for (const std::int32_t column : {x, next})
            for (int t = 0; t < kKernelTaps; ++t)
                std::memcpy(taps[column - x] + 4 * t, line(column) + (std::clamp<std::int64_t>(first[column] + t, 0, length_ - 1) - window_i_) * step_i,
                            sizeof(Four));
        interpolate(taps[0], taps[next - x], 4, phases[phase[x]], phases[phase[next]], out + 4 * x);
    }
}

BASEFOG_WIDE void Resampler::row(std::int64_t y, float* r, float* g, float* b) const {
    const double v = (double(y) + 0.5) / double(size_.height), depth = double(depth_);
    const double* const start = all_.start.data() + x0_;
    const double* const rise = all_.rise.data() + x0_;
    const std::int32_t* const lowest = first_.data();
    std::int32_t row_of[kColumns], phase[kColumns];
    const auto n = static_cast<std::int32_t>(columns_);
    for (std::int32_t x = 0; x < n; ++x) {
        const Place at = place(start[x] + rise[x] * v, depth);
        row_of[x] = at.first - lowest[x];
        phase[x] = at.phase;
    }
    const Taps* const phases = kernel().phases.data();
    const float* const between = &between_.data()->r;
    float pixels[4 * kColumns];
    for (std::int32_t x = 0; x < n; x += 2) {
        const std::int32_t next = x + 1 < n ? x + 1 : x;
        interpolate(between + 4 * (row_of[x] * stride_ + x), between + 4 * (row_of[next] * stride_ + next), 4 * stride_, phases[phase[x]], phases[phase[next]],
                    pixels + 4 * x);
    }
    for (std::int32_t x = 0; x < n; ++x) {
        r[x] = pixels[4 * x];
        g[x] = pixels[4 * x + 1];
        b[x] = pixels[4 * x + 2];
    }
}

}  // namespace basefog::invert
