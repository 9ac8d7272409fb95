// SPDX-License-Identifier: GPL-3.0-or-later
// Pixels per millimetre told from the film itself.
#pragma once

#include "strips.h"

#include <optional>

namespace basefog::frames {

struct Perforations {
    double pitch = 0;     ///< in the place's millimetres
    double strength = 0;  ///< 0..1; a lattice of clean holes gives about 0.7
};
/// Looks for regularly spaced bare light along the long edges, at pitches from `least` to `most` of the place's mm.
[[nodiscard]] std::optional<Perforations> find_perforations(const Overview& overview, const SheetLight& light, const StripPlace& place, double least,
                                                            double most);

struct FilmScale {
    double px_per_mm = 0;  ///< overview pixels
    ScaleOrigin origin = ScaleOrigin::assumed;
};
/// Without any stated resolution: perforations, else the film's width, else the frames' own proportions.
[[nodiscard]] std::optional<FilmScale> scale_from_film(const Overview& overview, const SheetLight& light, const cv::Mat& shades, int step,
                                                       const FindOptions& options);

}  // namespace basefog::frames
