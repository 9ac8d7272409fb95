// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/frames/types.h"

namespace basefog {

/// A strip of two frames whose corners tell which is which.
inline StripBox strip_of_two() {
    StripBox strip;
    strip.corners = {PointPx{0, 0}, PointPx{100, 0}, PointPx{100, 30}, PointPx{0, 30}};
    for (const double x : {5.0, 55.0}) {
        FrameBox frame;
        frame.corners = {PointPx{x, 5}, PointPx{x + 40, 5}, PointPx{x + 40, 25}, PointPx{x, 25}};
        strip.frames.push_back(frame);
    }
    return strip;
}

}  // namespace basefog
