// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/invert/shadow_means.h"

#include "invert/constants.h"

#include <algorithm>
#include <cmath>
#include <utility>

namespace basefog {
namespace {

using invert::kChromaCalm;
using invert::kChromaCalmEnds;
using invert::kGreyCalm;
using invert::kGreyCalmEnds;

/// 1 up to `from`, 0 from `to` on, smoothly between.
float falling(float x, float from, float to) {
    const float t = std::clamp((x - from) / (to - from), 0.0f, 1.0f);
    return 1.0f - t * t * (3.0f - 2.0f * t);
}

/// The mean of a cell's light, as density: averaging light, not density, costs one logarithm to a cell; the two differ by sigma^2 ln 10 / 2.
DensityRgbi mean_density(View<const LinearRgbi> pixels, const LightField& light, PointPx centre) {
    double r = 0, g = 0, b = 0;
    for (std::int64_t y = 0; y < pixels.height(); ++y) {
        const LinearRgbi* pixel = pixels.row(y);
        for (std::int64_t x = 0; x < pixels.width(); ++x, ++pixel) {
            r += double(pixel->r);
            g += double(pixel->g);
            b += double(pixel->b);
        }
    }
    const double n = double(pixels.width() * pixels.height());
    return light.density({static_cast<float>(r / n), static_cast<float>(g / n), static_cast<float>(b / n), 0}, centre);
}

}  // namespace

ShadowMeans::ShadowMeans(PxRect rect, std::int64_t cell_px, const Rgb<Density>& base, Density pixel_noise)
    : origin_{double(rect.x0), double(rect.y0)},
      cell_(double(std::max<std::int64_t>(1, cell_px))),
      base_{static_cast<float>(base.r.value()), static_cast<float>(base.g.value()), static_cast<float>(base.b.value())},
      noise_(static_cast<float>(std::isfinite(pixel_noise.value()) ? std::clamp(pixel_noise.value(), 0.0, 0.5) : 0.0)) {
    if (cell_px > 1 && !rect.empty() && noise_ > 0)
        means_ = Image<DensityRgbi>((rect.width() + cell_px - 1) / cell_px, (rect.height() + cell_px - 1) / cell_px);
}

Result<ShadowMeans> ShadowMeans::make(const PixelSource& source, const LightField& light, std::int64_t cell_px, const Rgb<Density>& base, Density pixel_noise,
                                      const ForEach& for_each) {
    const PxRect rect = source.rect();
    ShadowMeans made(rect, cell_px, base, pixel_noise);
    const auto row_of_cells = [&](std::int64_t row) -> Result<void> {
        const std::int64_t y0 = row * cell_px, y1 = std::min(rect.height(), y0 + cell_px);
        Image<LinearRgbi> band(rect.width(), y1 - y0);
        if (auto read = source.read({rect.x0, rect.y0 + y0, rect.x1, rect.y0 + y1}, band.view()); !read) return read;
        for (std::int64_t x = 0; x < made.means_.width(); ++x) {
            const std::int64_t x0 = x * cell_px, x1 = std::min(rect.width(), x0 + cell_px);
            const PointPx centre{double(rect.x0) + double(x0 + x1) / 2, double(rect.y0) + double(y0 + y1) / 2};
            made.means_(x, row) = mean_density(std::as_const(band).view().part(x0, 0, x1 - x0, y1 - y0), light, centre);
        }
        return {};
    };
    if (auto done = for_each(made.means_.height(), for_each.at_once, row_of_cells); !done) return Failure(std::move(done.error()));
    return made;
}

/// Is the mean high above base everywhere between the four cells from (x, y) on? What lies between them is no lower than the lowest.
bool ShadowMeans::clear_between(std::int64_t x, std::int64_t y) const {
    constexpr float kRoundings = 1e-5F;  // of densities, and far below what is told apart
    const std::int64_t x1 = std::min(x + 1, means_.width() - 1), y1 = std::min(y + 1, means_.height() - 1);
    for (const DensityRgbi& mean : {means_(x, y), means_(x1, y), means_(x, y1), means_(x1, y1)})
        if (!((mean.r - base_.r) + (mean.g - base_.g) + (mean.b - base_.b) > 3 * (static_cast<float>(kChromaCalmEnds) * noise_ + kRoundings))) return false;
    return true;
}

void ShadowMeans::settle_row(float* r, float* g, float* b, std::int64_t n, PointPx first, PointPx step) const {
    if (means_.empty()) return;
    const auto right = means_.width() - 1, bottom = means_.height() - 1;
    // Whole steps from a place until it can have left its cell, `part` of which lies behind it; one less, for roundings.
    const double du = step.x / cell_, dv = step.y / cell_;
    const auto stays = [](double part, double along) { return along > 0 ? (1 - part) / along : along < 0 ? part / -along : 1e9; };
    for (std::int64_t i = 0; i < n; ++i) {
        const double u = std::clamp((first.x + double(i) * step.x - origin_.x) / cell_ - 0.5, 0.0, double(right));
        const double v = std::clamp((first.y + double(i) * step.y - origin_.y) / cell_ - 0.5, 0.0, double(bottom));
        const auto x = static_cast<std::int64_t>(u), y = static_cast<std::int64_t>(v);
        if (clear_between(x, y)) {
            const double on = std::min(stays(u - double(x), du), stays(v - double(y), dv)) - 1;
            i += on > 0 ? static_cast<std::int64_t>(std::min(on, double(n))) : 0;
            continue;
        }
        const auto fx = static_cast<float>(u - double(x)), fy = static_cast<float>(v - double(y));
        const std::int64_t x1 = std::min(x + 1, right), y1 = std::min(y + 1, bottom);
        const DensityRgbi &a = means_(x, y), &c = means_(x1, y), &d = means_(x, y1), &e = means_(x1, y1);
        const auto between = [&](float DensityRgbi::*part) {
            const float top = a.*part + fx * (c.*part - a.*part), low = d.*part + fx * (e.*part - d.*part);
            return top + fy * (low - top);
        };
        const float mr = between(&DensityRgbi::r), mg = between(&DensityRgbi::g), mb = between(&DensityRgbi::b);
        const float height = ((mr - base_.r) + (mg - base_.g) + (mb - base_.b)) * (1.0f / 3) / noise_;
        if (!(height < static_cast<float>(kChromaCalmEnds))) continue;
        const float dr = r[i] - mr, dg = g[i] - mg, db = b[i] - mb, grey = (dr + dg + db) * (1.0f / 3);
        // How far the pixel stands out of the noise; the mean of three channels has less of it, but film's channels are not independent.
        const float out = std::max({std::fabs(dr), std::fabs(dg), std::fabs(db)}) / noise_;
        const float alike = falling(out, static_cast<float>(invert::kNoiseLike), static_cast<float>(invert::kPictureLike));
        const float keep_colour =
            1.0f - static_cast<float>(kChromaCalm) * alike * falling(height, 0.25f * static_cast<float>(kChromaCalmEnds), static_cast<float>(kChromaCalmEnds));
        const float keep_grey =
            1.0f - static_cast<float>(kGreyCalm) * alike * falling(height, 0.25f * static_cast<float>(kGreyCalmEnds), static_cast<float>(kGreyCalmEnds));
        if (!(keep_colour < 1.0f)) continue;
        r[i] = mr + keep_grey * grey + keep_colour * (dr - grey);
        g[i] = mg + keep_grey * grey + keep_colour * (dg - grey);
        b[i] = mb + keep_grey * grey + keep_colour * (db - grey);
    }
}

Density ShadowMeans::left_of(Density pixel_noise) { return pixel_noise * (1 - kGreyCalm); }

}  // namespace basefog
