// SPDX-License-Identifier: GPL-3.0-or-later
// Pixels per millimetre told from the film itself.
#pragma once

#include "fit.h"

#include <optional>

namespace basefog::frames {

/// What a fitted strip says of the scale it was fitted at: true millimetres are so many of those assumed.
struct FilmSays {
    double ratio = 1;
    double contradiction = 0;  ///< from this deviation on, the film is right and the scale wrong
    ScaleOrigin origin = ScaleOrigin::assumed;
};
[[nodiscard]] std::optional<FilmSays> scale_of_strip(const StripFit& fit);

struct FilmScale {
    double px_per_mm = 0;  ///< overview pixels
    ScaleOrigin origin = ScaleOrigin::assumed;
};
/// Without any stated resolution: perforations, else the film's width, else the frames' own proportions.
[[nodiscard]] std::optional<FilmScale> scale_from_film(const Overview& overview, const SheetLight& light, const cv::Mat& shades, int step,
                                                       const FindOptions& options);

}  // namespace basefog::frames
