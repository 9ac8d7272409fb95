// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/resample.h"

#include "invert/constants.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <cstring>
#include <numbers>

namespace basefog::invert {
namespace {

/// Four floats the compiler keeps in one register (red, green, blue, infrared).
typedef float Four __attribute__((vector_size(16)));

Four load(const LinearRgbi* pixel) {
    Four value;
    std::memcpy(&value, pixel, sizeof value);
    return value;
}
Four smaller(Four a, Four b) { return a < b ? a : b; }
Four larger(Four a, Four b) { return a > b ? a : b; }

using Taps = std::array<float, kKernelTaps>;

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
            for (int t = 0; t < kKernelTaps; ++t) phases[p][t] = static_cast<float>(weights[t] / sum);
        }
    }
};
const KernelTable& kernel() {
    static const KernelTable table;
    return table;
}

/// Where a position falls: the first of its taps, counted in pixels, and its phase.
struct Place {
    std::int64_t first;
    int phase;
};
/// Positions far outside are brought near the picture: all of its edge looks the same from there.
Place place(double position, double length) {
    constexpr double kOutside = 8;
    const double at = std::clamp(position, -kOutside, length + kOutside) - 0.5 + 2 * kOutside;  // positive, so truncation is floor
    const std::int64_t whole = static_cast<std::int64_t>(at);
    return {whole - (kKernelRadius - 1) - 2 * static_cast<std::int64_t>(kOutside), static_cast<int>((at - static_cast<double>(whole)) * kKernelPhases + 0.5)};
}

/// Weighted sum, held within the four nearest samples: a windowed sinc overshoots beside dust and hard edges, and in a negative's
/// dense parts even a small overshoot below would be many times the light that is there.
Four interpolate(const std::array<Four, kKernelTaps>& s, const Taps& w) {
    Four sum = s[0] * w[0];
    for (int t = 1; t < kKernelTaps; ++t) sum += s[t] * w[t];
    const Four low = smaller(smaller(s[1], s[2]), smaller(s[3], s[4])), high = larger(larger(s[1], s[2]), larger(s[3], s[4]));
    return larger(smaller(sum, high), low);
}

double or_zero(double value) { return std::isfinite(value) ? value : 0; }

}  // namespace

Resampler::Resampler(PxRect rect, const Quad& corners, PositiveSize size) : rect_(rect), size_(size), all_(static_cast<std::size_t>(size.width)) {
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
        all_[static_cast<std::size_t>(x)] = {or_zero(j0), or_zero(j1 - j0), or_zero(i0 - slope * j0), slope, 0};
    }
}

PxRect Resampler::turn_to(std::int64_t x0, std::int64_t columns, std::int64_t y0, std::int64_t rows) {
    columns_ = columns;
    block_.assign(all_.begin() + x0, all_.begin() + x0 + columns);
    taps_ = 0;
    const double v0 = (double(y0) + 0.5) / double(size_.height), v1 = (double(y0 + rows) - 0.5) / double(size_.height);
    for (Column& column : block_) {
        const Place a = place(column.start + column.rise * v0, double(depth_)), b = place(column.start + column.rise * v1, double(depth_));
        column.first = std::min(a.first, b.first);
        taps_ = std::max(taps_, std::max(a.first, b.first) - column.first + kKernelTaps);
    }
    // Along a column the place on a row moves evenly, so its ends tell how far it goes.
    std::int64_t i0 = length_, i1 = 0, j0 = depth_, j1 = 0;
    const auto held = [](std::int64_t at, std::int64_t size) { return std::clamp<std::int64_t>(at, 0, size - 1); };
    for (const Column& column : block_) {
        for (const std::int64_t j : {column.first, column.first + taps_ - 1}) {
            const Place at = place(column.along + column.slope * (double(j) + 0.5), double(length_));
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
    between_.resize(static_cast<std::size_t>(taps_ * columns_));
    const std::int64_t step_i = sideways_ ? pixels.stride() : 1, step_j = sideways_ ? 1 : pixels.stride();  // pixels from one to the next
    const LinearRgbi* const origin = pixels.data() - window_i_ * step_i - window_j_ * step_j;
    for (std::int64_t k = 0; k < taps_; ++k) {
        LinearRgbi* const out = between_.data() + k * columns_;
        for (std::int64_t x = 0; x < columns_; ++x) {
            const Column& column = block_[static_cast<std::size_t>(x)];
            const std::int64_t j = column.first + k;
            const Place at = place(column.along + column.slope * (double(j) + 0.5), double(length_));
            const LinearRgbi* line = origin + std::clamp<std::int64_t>(j, 0, depth_ - 1) * step_j;
            std::array<Four, kKernelTaps> samples;
            if (at.first >= 0 && at.first + kKernelTaps <= length_) {
                line += at.first * step_i;
                for (int t = 0; t < kKernelTaps; ++t) samples[t] = load(line + t * step_i);
            } else {
                for (int t = 0; t < kKernelTaps; ++t) samples[t] = load(line + std::clamp<std::int64_t>(at.first + t, 0, length_ - 1) * step_i);
            }
            const Four value = interpolate(samples, kernel().phases[at.phase]);
            out[x] = {value[0], value[1], value[2], value[3]};
        }
    }
}

void Resampler::row(std::int64_t y, float* r, float* g, float* b) const {
    const double v = (double(y) + 0.5) / double(size_.height);
    for (std::int64_t x = 0; x < columns_; ++x) {
        const Column& column = block_[static_cast<std::size_t>(x)];
        const Place at = place(column.start + column.rise * v, double(depth_));
        const LinearRgbi* const sample = between_.data() + (at.first - column.first) * columns_ + x;
        std::array<Four, kKernelTaps> samples;
        for (int t = 0; t < kKernelTaps; ++t) samples[t] = load(sample + t * columns_);
        const Four value = interpolate(samples, kernel().phases[at.phase]);
        r[x] = value[0];
        g[x] = value[1];
        b[x] = value[2];
    }
}

}  // namespace basefog::invert
