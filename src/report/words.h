// SPDX-License-Identifier: GPL-3.0-or-later
// The page's wording for results that are enumerators, so that every section says the same.
#pragma once

#include "basefog/report/types.h"

#include <string>
#include <string_view>

namespace basefog::report {

[[nodiscard]] std::string_view headline(Outcome outcome);
[[nodiscard]] std::string_view words(ResidueGrade grade);
/// What to do about it, one or two sentences.
[[nodiscard]] std::string_view advice(ResidueGrade grade);
/// 0 clean to 3 heavy.
[[nodiscard]] int level(ResidueGrade grade);
[[nodiscard]] std::string_view words(ScaleOrigin origin);
[[nodiscard]] std::string_view words(Origin origin);
[[nodiscard]] std::string_view heading(Severity severity);
/// "assumed, clipped", or empty.
[[nodiscard]] std::string words(MeasureFlag flags);
/// "5 rolls done before this one, good for 8, 22 days old"; `spent` is set when the count is used up.
struct BathState {
    std::string text;
    bool spent = false;
};
[[nodiscard]] BathState bath_state(const RollRecord& roll);

}  // namespace basefog::report
