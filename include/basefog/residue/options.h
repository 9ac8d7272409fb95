// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"
#include "basefog/core/units.h"

#include <string>
#include <vector>

namespace basefog {

struct ResidueOptions {
    Density area_threshold{0.05};          ///< residue denser than this counts in area_percent
    std::vector<std::string> stock_of_strip;  ///< strips of the same name are the same film; where empty or missing, the base's mask tells
};
[[nodiscard]] Result<void> validate(const ResidueOptions& options);

}  // namespace basefog
