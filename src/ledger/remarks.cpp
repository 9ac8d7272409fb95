// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/ledger/read_ledger.h"

#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <map>
#include <tuple>

namespace basefog {
namespace {

/// Chosen: mixed developer keeps for weeks to some months (common practice, no source), so a year later it is more likely a slip.
constexpr int kLongestUse = 365;
/// Chosen: stock is dated a few years ahead, and the oldest colour negative one finds is some decades old.
constexpr int kFarthestExpiry = 366 * 15, kOldestExpiry = 366 * 60;

int days_between(Date from, Date to) { return static_cast<int>((std::chrono::sys_days(to) - std::chrono::sys_days(from)).count()); }

using ledger_room::in_quotes;

void remark_on_session(const Ledger& ledger, const Session& session, std::optional<Date> today, std::vector<std::string>& remarks) {
    if (!session.date) return;
    if (today && *session.date > *today)
        remarks.push_back(fmt::format("session {} is on {}, which is still to come", in_quotes(session.id), to_string(*session.date)));
    const Bath* bath = ledger.find_bath(session.bath);
    if (bath == nullptr || !bath->mixed_on) return;
    if (const int days = days_between(*bath->mixed_on, *session.date); days > kLongestUse)
        remarks.push_back(
            fmt::format("session {} used bath {} {} days after it was mixed; was a new one mixed?", in_quotes(session.id), in_quotes(bath->id), days));
}

void remark_on_places(const Ledger& ledger, std::vector<std::string>& remarks) {
    std::map<std::tuple<std::string, std::string, int>, std::string> taken;
    for (const Roll& roll : ledger.rolls) {
        if (roll.session.empty() || !roll.reel) continue;
        const auto [at, fresh] = taken.emplace(std::tuple(roll.session, roll.tank, *roll.reel), roll.id);
        if (!fresh)
            remarks.push_back(fmt::format("rolls {} and {} of session {} have the same place {} in the same tank", in_quotes(at->second), in_quotes(roll.id),
                                          in_quotes(roll.session), *roll.reel));
    }
}

void remark_on_stocks(const Ledger& ledger, std::vector<std::string>& remarks) {
    for (const Roll& roll : ledger.rolls) {
        const Stock* stock = ledger.find_stock(roll.stock);
        const Session* session = ledger.find_session(roll.session);
        if (stock == nullptr || session == nullptr || !stock->expiry || !session->date) continue;
        const int left = days_between(*session->date, *stock->expiry);
        if (left > kFarthestExpiry || left < -kOldestExpiry)
            remarks.push_back(fmt::format("roll {} of {} was developed on {}, its stock is dated {}", in_quotes(roll.id), in_quotes(stock->id),
                                          to_string(*session->date), to_string(*stock->expiry)));
    }
}

}  // namespace

std::vector<std::string> ledger_remarks(const Ledger& ledger, std::optional<Date> today) {
    std::vector<std::string> remarks;
    std::map<std::string, int> rolls_of;
    for (const Roll& roll : ledger.rolls)
        if (const Session* session = ledger.find_session(roll.session)) ++rolls_of[session->bath];
    for (const Bath& bath : ledger.baths) {
        if (today && bath.mixed_on && *bath.mixed_on > *today)
            remarks.push_back(fmt::format("bath {} was mixed on {}, which is still to come", in_quotes(bath.id), to_string(*bath.mixed_on)));
        if (bath.good_for_rolls && rolls_of[bath.id] > *bath.good_for_rolls)
            remarks.push_back(fmt::format("bath {} has done {} rolls and is good for {}", in_quotes(bath.id), rolls_of[bath.id], *bath.good_for_rolls));
    }
    for (const Session& session : ledger.sessions) remark_on_session(ledger, session, today, remarks);
    remark_on_places(ledger, remarks);
    remark_on_stocks(ledger, remarks);
    return remarks;
}

}  // namespace basefog
