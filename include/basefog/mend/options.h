// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

namespace basefog {

enum class MendMode {
    off,   ///< nothing is mended
    safe,  ///< what infrared tells; without it, only specks and fibres told at high confidence
    all,   ///< without infrared also specks that may be dust or backing, as far as they are small enough to fill
};

struct MendOptions {
    MendMode mode = MendMode::safe;
    bool keep_unmended = false;  ///< write the unmended positive too
};

}  // namespace basefog
