// SPDX-License-Identifier: GPL-3.0-or-later
// What the residue stage has to say, in words.
#pragma once

#include "basefog/core/finding.h"
#include "basefog/residue/types.h"

namespace basefog::residue {

/// Findings of one strip.
void report_strip(const StripResidue& strip, int index, bool silver, bool by_infrared, bool likely, std::vector<Finding>& findings);
/// The usual cautions, once per sheet, where a re-wash is suggested.
void report_cautions(const std::vector<StripResidue>& strips, std::vector<Finding>& findings);

}  // namespace basefog::residue
