// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/problems.h"

#include "basefog/core/assert.h"
#include "ledger/constants.h"

#include <fmt/format.h>
#include <algorithm>

namespace basefog::ledger_room {

void Problems::add(Place place, std::string wrong, std::string right) {
    std::string text = fmt::format("line {}, column {}: {}", place.line, place.column, wrong);
    if (!right.empty()) text += "; " + right;
    found_.push_back({place, std::move(text)});
}

bool Problems::want_hints() const { return found_.size() < kMaxHinted; }

Error Problems::to_error(const std::string& path) const {
    BASEFOG_ASSERT(!found_.empty());
    std::vector<Problem> sorted = found_;
    std::stable_sort(sorted.begin(), sorted.end(), [](const Problem& a, const Problem& b) { return a.place < b.place; });
    if (sorted.size() == 1) return {ErrorCode::malformed, sorted.front().text, path, {}};
    std::string what = fmt::format("{} problems", sorted.size());
    const std::size_t shown = std::min(sorted.size(), kMaxListed);
    for (std::size_t i = 0; i < shown; ++i) what += "\n  " + sorted[i].text;
    if (shown < sorted.size()) what += fmt::format("\n  and {} more", sorted.size() - shown);
    return {ErrorCode::malformed, what, path, {}};
}

}  // namespace basefog::ledger_room
