// SPDX-License-Identifier: GPL-3.0-or-later
// How far a bath had been used when a roll went through it.
#include "basefog/ledger/read_ledger.h"

namespace basefog {
namespace {

const Session* session_of(const Ledger& ledger, const std::string& roll_id) {
    const Roll* roll = ledger.find_roll(roll_id);
    return roll ? ledger.find_session(roll->session) : nullptr;
}

/// By date where both have one and they differ, else by their order in the ledger (the vector's).
bool earlier(const Session& a, const Session& b) {
    if (a.date && b.date && *a.date != *b.date) return *a.date < *b.date;
    return &a < &b;
}

}  // namespace

std::optional<int> rolls_done_before(const Ledger& ledger, const std::string& roll_id) {
    const Session* own = session_of(ledger, roll_id);
    if (!own || own->bath.empty()) return std::nullopt;
    int done = 0;
    for (const Roll& roll : ledger.rolls) {
        const Session* other = ledger.find_session(roll.session);
        if (other && other != own && other->bath == own->bath && earlier(*other, *own)) ++done;
    }
    return done;
}

std::optional<int> bath_age_days(const Ledger& ledger, const std::string& roll_id) {
    const Session* session = session_of(ledger, roll_id);
    const Bath* bath = session ? ledger.find_bath(session->bath) : nullptr;
    if (!bath || !bath->mixed_on || !session->date) return std::nullopt;
    return static_cast<int>((std::chrono::sys_days(*session->date) - std::chrono::sys_days(*bath->mixed_on)).count());
}

}  // namespace basefog
