// SPDX-License-Identifier: GPL-3.0-or-later
// Sheets drawn by lot: everything a year of scans may bring, with the truth and the names of the difficulties drawn.
//
// Dimensions of cameras are nominal ones and common practice, from memory: 24 x 36 [ISO1007] every eight perforations;
// half frame 18 x 24 every four; panoramic 24 x 65 every 14 to 16; on unperforated film 61.5 mm wide 41.5 x 56,
// 56 x 56 and 69.5 x 56 (along the film first), their advance set by the camera.
#pragma once

#include "support/synthetic_film.h"

#include <cstdint>
#include <string>
#include <vector>

namespace synthetic {

/// The sheet with this number. What is drawn is named in `difficulties` of the sheet, its strips and its frames.
[[nodiscard]] SheetSpec random_sheet(std::uint64_t seed);

enum class Format { full_frame, half_frame, panoramic, six_by_four_and_a_half, six_by_six, six_by_seven };
[[nodiscard]] std::string name(Format format);
[[nodiscard]] bool perforated(Format format);

/// What a random strip has to know of its sheet.
struct StripPlace {
    Format format = Format::full_frame;
    int frames = 6;
    HolderKind holder = HolderKind::none;
    double opening = 0;        ///< of the holder, across the film, mm
    double hidden_end = 0;     ///< mm of film the holder covers at the first end
    double scene_width = 360;  ///< pixels across a 36 mm picture
};
/// A strip at (0, 0), level; the sheet moves and tilts it.
[[nodiscard]] StripSpec random_strip(const StripPlace& place, std::uint64_t seed);

}  // namespace synthetic
