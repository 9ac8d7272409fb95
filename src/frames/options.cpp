// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/frames/options.h"

namespace basefog {

Result<void> validate(const FindOptions& options) {
    // Written so that NaN fails too.
    if (!(options.max_tilt_deg >= 0 && options.max_tilt_deg <= 15)) return fail(ErrorCode::usage, "the largest tilt must lie between 0 and 15 degrees");
    if (options.max_frames_per_strip < 1 || options.max_frames_per_strip > 100) return fail(ErrorCode::usage, "frames per strip must lie between 1 and 100");
    return {};
}

}  // namespace basefog
