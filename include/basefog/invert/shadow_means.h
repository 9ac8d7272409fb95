// SPDX-License-Identifier: GPL-3.0-or-later
// A frame's density averaged over cells of about 0.1 mm, and the noise of one pixel beside it: by them thin shadows are told from noise, so that inverting
// does not spread the noise into coloured speckle. Built once for a frame, then const: safe from any number of threads.
#pragma once

#include "basefog/core/for_each.h"
#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/pixel_source.h"
#include "basefog/core/units.h"
#include "basefog/density/types.h"

#include <cstdint>

namespace basefog {

class ShadowMeans {
public:
    /// `cell_px`: side of a cell in scan pixels, at least 1; with 1 nothing is ever settled. `base`: what lies under the picture. `pixel_noise`: standard
    /// deviation of density in clear film at one scan pixel.
    /// Errors: the source's.
    [[nodiscard]] static Result<ShadowMeans> make(const PixelSource& source, const LightField& light, std::int64_t cell_px, const Rgb<Density>& base,
                                                  Density pixel_noise, const ForEach& for_each = {});

    /// Draws noise towards the local mean, in place: `n` pixels with their channels apart, absolute densities, at scan positions `first` + i * `step`. Deep
    /// shadows only; what stands out of the noise, as a star or an edge does, and all that lies higher, is not touched.
    void settle_row(float* r, float* g, float* b, std::int64_t n, PointPx first, PointPx step) const;

    /// The noise a settled pixel of clear film is left with, besides its cell's own.
    [[nodiscard]] static Density left_of(Density pixel_noise);

private:
    ShadowMeans(PxRect rect, std::int64_t cell_px, const Rgb<Density>& base, Density pixel_noise);
    [[nodiscard]] bool clear_between(std::int64_t x, std::int64_t y) const;
    PointPx origin_{};
    double cell_ = 1;
    Rgb<float> base_{};
    float noise_ = 0;
    Image<DensityRgbi> means_;
};

}  // namespace basefog
