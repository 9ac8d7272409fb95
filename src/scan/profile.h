// SPDX-License-Identifier: GPL-3.0-or-later
// What an embedded ICC profile says of the path from codes to linear light, through lcms2.
#pragma once

#include "basefog/core/result.h"
#include "scan/linearise.h"

#include <string>
#include <vector>

namespace basefog::scan {

struct Profile {
    std::string name;  ///< its description, printable ASCII
    Linearisation how;
    bool is_table = false;
};

/// Tone curves where the profile has them for every channel - also beside a table, as a density wants the sensor's own
/// channels, unmixed - else its table to linear light. Either way full scale (all codes at their largest) comes out as 1
/// in each channel. `colours` is 1 or 3.
/// Errors: malformed or unsupported, worded as the reason why the profile cannot be used.
[[nodiscard]] Result<Profile> read_profile(const std::vector<unsigned char>& bytes, int colours);

}  // namespace basefog::scan
