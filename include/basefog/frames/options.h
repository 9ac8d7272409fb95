// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"
#include "basefog/frames/types.h"

namespace basefog {

struct FindOptions {
    FrameFormat format = FrameFormat::automatic;  ///< automatic: each strip's is told from the film
    double max_tilt_deg = 4.0;                    ///< strips tilted further are not looked for
    int max_frames_per_strip = 40;
    bool close_up = false;  ///< the picture shows one frame that fills most of it, as a camera on a copy stand takes it
};
[[nodiscard]] Result<void> validate(const FindOptions& options);

}  // namespace basefog
