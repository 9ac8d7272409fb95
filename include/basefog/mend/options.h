// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

namespace basefog {

enum class MendMode {
    off,   ///< nothing is mended
    safe,  ///< what infrared tells; without it, only specks and fibres told at high confidence
    all,   ///< also what is only likely without infrared, and neutral residue inside pictures
};

struct MendOptions {
    MendMode mode = MendMode::safe;
    bool keep_unmended = false;  ///< write the unmended positive too
};

}  // namespace basefog
