// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/frames/options.h"

namespace basefog {

Result<void> validate(const FindOptions& options) {
    const double width = options.frame_width.value(), height = options.frame_height.value(), pitch = options.frame_pitch.value(),
                 film = options.film_width.value();
    // Written so that NaN fails too.
    if (!(width >= 5 && width <= 100) || !(height >= 5 && height <= 100)) return fail(ErrorCode::usage, "a frame's sides must lie between 5 and 100 mm");
    if (!(pitch >= width && pitch <= 1.5 * width))
        return fail(ErrorCode::usage, "the frame pitch must lie between the frame's width and one and a half times that");
    if (!(film >= height && film <= 100)) return fail(ErrorCode::usage, "the film must be at least as wide as a frame is high, and at most 100 mm");
    if (!(options.max_tilt_deg >= 0 && options.max_tilt_deg <= 15)) return fail(ErrorCode::usage, "the largest tilt must lie between 0 and 15 degrees");
    if (options.max_frames_per_strip < 1 || options.max_frames_per_strip > 100) return fail(ErrorCode::usage, "frames per strip must lie between 1 and 100");
    return {};
}

}  // namespace basefog
