// SPDX-License-Identifier: GPL-3.0-or-later
// Collects everything wrong with a text, so that one run of the check shows it all.
#pragma once

#include "basefog/core/result.h"

#include <compare>
#include <string>
#include <vector>

namespace basefog::ledger_room {

/// Counted from 1; columns count characters (code points), not bytes.
struct Place {
    int line = 1, column = 1;
    friend auto operator<=>(const Place&, const Place&) = default;
};

class Problems {
public:
    /// `right` says what would be right; may be empty.
    void add(Place place, std::string wrong, std::string right = {});
    [[nodiscard]] bool empty() const { return found_.empty(); }
    /// False once there are far more problems than are shown: then searching for near misses is no longer worth the time.
    [[nodiscard]] bool want_hints() const;
    /// One problem per line, in the order of the text.
    [[nodiscard]] Error to_error(const std::string& path) const;

private:
    struct Problem {
        Place place;
        std::string text;
    };
    std::vector<Problem> found_;
};

}  // namespace basefog::ledger_room
