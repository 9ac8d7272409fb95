// SPDX-License-Identifier: GPL-3.0-or-later
// A format's dimensions as plain millimetres, for the finder's kernels.
#pragma once

#include "basefog/frames/options.h"

#include <array>
#include <vector>

namespace basefog::frames {

/// Evidence, natural log, by which each format is ahead of the others before a strip is looked at; by the enumerator's place.
using FormatPrior = std::array<double, 7>;
[[nodiscard]] inline std::size_t place_of(FrameFormat format) { return static_cast<std::size_t>(format); }

struct Gauge {
    FrameFormat format = FrameFormat::full;
    double width = 36, height = 24;  ///< along and across the strip
    double pitch = 38;               ///< nominal advance
    double film_width = 34.975;
    double advance_std = 0.4;                     ///< by which it varies from frame to frame
    double advance_less = 1.8, advance_more = 3;  ///< range of advances looked at, either side of the nominal
    double gate_std = 0.2;                        ///< by which cameras' gates differ from the nominal
    double most_overlap = 8;                      ///< of two frames, mm
    int most_frames = 40;
    bool perforated = true;
};
[[nodiscard]] Gauge gauge_of(FrameFormat format, const FindOptions& options);

/// The two kinds of film that strips come in.
enum class FilmFamily { perforated_35, roll };
/// Formats to try on film of that family, the likeliest first; one only where the options name it.
[[nodiscard]] std::vector<Gauge> gauges_for(FilmFamily family, const FindOptions& options);
/// What is usual: full frames.
[[nodiscard]] FormatPrior usual_formats();
/// Families that the options leave open.
[[nodiscard]] std::vector<FilmFamily> families_for(const FindOptions& options);
[[nodiscard]] double film_width_of(FilmFamily family);
/// Height of the pictures on film of that family, across the strip: all its formats share it.
[[nodiscard]] double picture_height_of(FilmFamily family);

}  // namespace basefog::frames
