// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/invert/inverter.h"

#include "basefog/core/fast_math.h"
#include "basefog/core/wide.h"
#include "invert/constants.h"
#include "invert/resample.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <numbers>

namespace basefog {
namespace {

using invert::Resampler;

std::int64_t whole_pixels(double length) {
    constexpr double kLongest = 1e6;  // Chosen: a positive of a million pixels a side; beyond any scan
    return std::isfinite(length) ? std::llround(std::min(length, kLongest)) : 0;
}

/// log10 of the bare light along one row of the positive, where it is a quadratic of the column: c[0] + c[1] x + c[2] x^2.
std::array<double, 3> light_along_row(const std::array<double, LightField::kTerms>& k, PointPx first, PointPx step, double width, double height) {
    const double u0 = first.x / width * 2 - 1, v0 = first.y / height * 2 - 1, du = step.x / width * 2, dv = step.y / height * 2;
    const double constant = k[0] + k[1] * u0 + k[2] * v0 + k[3] * u0 * u0 + k[4] * u0 * v0 + k[5] * v0 * v0;
    const double linear = k[1] * du + k[2] * dv + 2 * k[3] * u0 * du + k[4] * (u0 * dv + v0 * du) + 2 * k[5] * v0 * dv;
    const double square = k[3] * du * du + k[4] * du * dv + k[5] * dv * dv;
    return {constant / std::numbers::ln10, linear / std::numbers::ln10, square / std::numbers::ln10};
}

/// Light to density, in place: log10 of the bare light less log10 of what came through.
BASEFOG_WIDE void densities(float* values, std::int64_t n, float flare, const std::array<double, 3>& light, std::int64_t x0) {
    constexpr float kNoLight = 1e-12f;
    // Shifted to the block's own first column, so that float carries it.
    const double x = double(x0);
    const float c0 = static_cast<float>(light[0] + x * (light[1] + x * light[2])), c1 = static_cast<float>(light[1] + 2 * x * light[2]),
                c2 = static_cast<float>(light[2]);
    for (std::int64_t i = 0; i < n; ++i) {
        const float through = values[i] - flare, at = static_cast<float>(static_cast<std::int32_t>(i));
        const float log_through = static_cast<float>(kLog10Of2) * fast_log2(through > kNoLight ? through : kNoLight);
        values[i] = c0 + at * (c1 + at * c2) - log_through;
    }
}

}  // namespace

PositiveSize positive_size(const Quad& corners) {
    return {whole_pixels((distance(corners[0], corners[1]) + distance(corners[3], corners[2])) / 2),
            whole_pixels((distance(corners[0], corners[3]) + distance(corners[1], corners[2])) / 2)};
}

PxRect source_rect(const Quad& corners) {
    for (const PointPx& corner : corners)
        if (!(std::fabs(corner.x) < 1e9 && std::fabs(corner.y) < 1e9)) return {};
    return bounds(corners, invert::kKernelRadius);
}

namespace {

/// Renders `rows` rows from `row0` on in blocks: `finish(y, x0, n, r, g, b)` gets absolute densities of row y of the rows, columns from x0 on.
template <class Finish>
Result<void> render_blocks(const PixelSource& source, const Quad& corners, const LightField& light, const ShadowMeans* shadows, std::int64_t row0,
                           std::int64_t rows, const Finish& finish) {
    const PositiveSize size = positive_size(corners);
    BASEFOG_ASSERT(row0 >= 0 && row0 + rows <= size.height);
    BASEFOG_ASSERT(!source.rect().empty());
    Resampler resampler(source.rect(), corners, size);
    Image<LinearRgbi> part;
    const float flare[3] = {light.flare.r, light.flare.g, light.flare.b};
    std::array<float, Resampler::kColumns> r, g, b;
    float* const channels[3] = {r.data(), g.data(), b.data()};
    for (std::int64_t y0 = 0; y0 < rows; y0 += Resampler::kRows) {
        const std::int64_t block_rows = std::min(Resampler::kRows, rows - y0);
        for (std::int64_t x0 = 0; x0 < size.width; x0 += Resampler::kColumns) {
            const std::int64_t columns = std::min(Resampler::kColumns, size.width - x0);
            const PxRect needed = resampler.turn_to(x0, columns, row0 + y0, block_rows);
            if (part.width() < needed.width() || part.height() < needed.height())
                part = Image<LinearRgbi>(std::max(part.width(), needed.width()), std::max(part.height(), needed.height()));
            const View<LinearRgbi> pixels = part.view().part(0, 0, needed.width(), needed.height());
            if (auto read = source.read(needed, pixels); !read) return read;
            resampler.prepare(pixels);
            for (std::int64_t y = y0; y < y0 + block_rows; ++y) {
                resampler.row(row0 + y, r.data(), g.data(), b.data());
                const double v = (double(row0 + y) + 0.5) / double(size.height);
                const PointPx first = inside(corners, 0.5 / double(size.width), v);
                const PointPx step = (inside(corners, 1, v) - inside(corners, 0, v)) * (1 / double(size.width));
                for (int c = 0; c < 3; ++c)
                    densities(channels[c], columns, flare[c], light_along_row(light.coefficient[c], first, step, light.scan_width, light.scan_height), x0);
                if (shadows != nullptr) shadows->settle_row(r.data(), g.data(), b.data(), columns, first + step * double(x0), step);
                finish(y, x0, columns, r.data(), g.data(), b.data());
            }
        }
    }
    return {};
}

}  // namespace

Result<void> render_rows(const PixelSource& source, const Quad& corners, const LightField& light, const Inverter& inverter, const OutputProfile& profile,
                         std::int64_t row0, View<EncodedRgb16> out, const ShadowMeans* shadows) {
    if (out.empty()) return {};
    BASEFOG_ASSERT(out.width() == positive_size(corners).width);
    return render_blocks(source, corners, light, shadows, row0, out.height(),
                         [&](std::int64_t y, std::int64_t x0, std::int64_t n, float* r, float* g, float* b) {
                             inverter.display_row(r, g, b, n);
                             profile.fit_row(r, g, b, n);
                             profile.encode_row(r, g, b, out.row(y) + x0, n);
                         });
}

Result<void> render_linear_rows(const PixelSource& source, const Quad& corners, const LightField& light, const Inverter& inverter, std::int64_t row0,
                                View<SceneRgb> out, const ShadowMeans* shadows) {
    if (out.empty()) return {};
    BASEFOG_ASSERT(out.width() == positive_size(corners).width);
    return render_blocks(source, corners, light, shadows, row0, out.height(),
                         [&](std::int64_t y, std::int64_t x0, std::int64_t n, float* r, float* g, float* b) {
                             inverter.linear_row(r, g, b, n);
                             for (std::int64_t i = 0; i < n; ++i) out(x0 + i, y) = {r[i], g[i], b[i]};
                         });
}

Result<void> render_density_rows(const PixelSource& source, const Quad& corners, const LightField& light, const Rgb<Density>& base, std::int64_t row0,
                                 View<DensityRgbi> out) {
    if (out.empty()) return {};
    BASEFOG_ASSERT(out.width() == positive_size(corners).width);
    const float below[3] = {static_cast<float>(base.r.value()), static_cast<float>(base.g.value()), static_cast<float>(base.b.value())};
    return render_blocks(source, corners, light, nullptr, row0, out.height(),
                         [&](std::int64_t y, std::int64_t x0, std::int64_t n, const float* r, const float* g, const float* b) {
                             for (std::int64_t i = 0; i < n; ++i) out(x0 + i, y) = {r[i] - below[0], g[i] - below[1], b[i] - below[2], 0};
                         });
}

}  // namespace basefog
