// SPDX-License-Identifier: GPL-3.0-or-later
// What a frame's picture is made with: the same for the positive a run writes and for a proof shown while someone chooses.
#pragma once

#include "measure_sheet.h"

#include "basefog/core/for_each.h"
#include "basefog/core/pixel_source.h"
#include "basefog/invert/inverter.h"
#include "basefog/invert/shadow_means.h"
#include "basefog/mend/types.h"

namespace basefog::pipeline {

inline constexpr std::int64_t kRenderRows = 32;  ///< Chosen: rows of a picture per task; does not change results.

struct PictureFacts {
    Rgb<Density> base{};           ///< under the picture, veil included
    Density noise{};               ///< of it, at one pixel of the crop
    std::int64_t shadow_cell = 1;  ///< pixels of the crop
    Inverter inverter;
};
/// `scale` is the crop's, which is the scan's own or, for a reduced one, less.
[[nodiscard]] PictureFacts picture_facts(const StripRecord& strip, FilmModel model, const Rgb<LogExposure>& balance, LogExposure level,
                                         const PrintValues& print, PixelsPerMm scale, const RunOptions& options);
/// Errors: the source's.
[[nodiscard]] Result<ShadowMeans> shadow_means(const PixelSource& source, const LightField& light, const PictureFacts& facts, const ForEach& for_each);
/// Infrared's register is told anew on the picture where the sheet's overview was coarser than the scan. Errors: the source's.
[[nodiscard]] Result<MendFacts> mend_facts(const MeasuredSheet& sheet, const StripRecord& strip, const PixelSource& source, const RunOptions& options,
                                           const ForEach& for_each);

/// The part of a scan a picture is made from, with the film around it that mending may look at; not clipped to the scan.
[[nodiscard]] PxRect picture_source(const Quad& corners, PixelsPerMm scale, MendMode mode);

/// The positive, whole in memory. Errors: the source's.
[[nodiscard]] Result<Image<EncodedRgb16>> render_picture(const PixelSource& source, const Quad& corners, const LightField& light, const Inverter& inverter,
                                                         const OutputProfile& profile, const ShadowMeans& shadows, const ForEach& for_each);

}  // namespace basefog::pipeline
