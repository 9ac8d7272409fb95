// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"
#include "basefog/core/units.h"

namespace basefog {

struct FindOptions {
    Millimetres frame_width{36.0};   ///< along the strip [ISO1007]
    Millimetres frame_height{24.0};  ///< across the strip [ISO1007]
    Millimetres frame_pitch{38.0};   ///< nominal advance: 8 perforations of 4.750 mm
    Millimetres film_width{34.975};  ///< [SMPTE102]
    double max_tilt_deg = 4.0;       ///< strips tilted further are not looked for
    int max_frames_per_strip = 8;
};
[[nodiscard]] Result<void> validate(const FindOptions& options);

}  // namespace basefog
