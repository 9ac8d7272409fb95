// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/draft.h"
#include "ledger/nearest.h"
#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <algorithm>
#include <map>
#include <set>

namespace basefog::ledger_room {
namespace {

template <class T>
std::vector<std::string> ids(const std::vector<T>& all) {
    std::vector<std::string> names;
    names.reserve(all.size());
    for (const T& one : all) names.push_back(one.id);
    return names;
}

struct Targets {
    const char* noun;
    std::vector<std::string> in_order;
    std::set<std::string> set;
    Targets(const char* word, std::vector<std::string> names) : noun(word), in_order(std::move(names)), set(in_order.begin(), in_order.end()) {}
};

void check_references(const Draft& draft, const Ledger& ledger, Problems& problems) {
    const std::map<Referred, Targets> targets = {
        {Referred::stock, Targets("stock", ids(ledger.stocks))},
        {Referred::bath, Targets("bath", ids(ledger.baths))},
        {Referred::session, Targets("session", ids(ledger.sessions))},
        {Referred::roll, Targets("roll", ids(ledger.rolls))},
    };
    for (const Reference& reference : draft.references) {
        const Targets& target = targets.at(reference.kind);
        if (target.set.contains(reference.id.text)) continue;
        std::string right = problems.want_hints() ? suggestion(reference.id.text, target.in_order, std::string(target.noun) + "s") : "";
        if (target.in_order.empty()) right = fmt::format("the ledger holds no {}: add [{}.{}]", target.noun, target.noun, toml_string(reference.id.text));
        problems.add(reference.id.place,
                     fmt::format("{} names {} {}, which the ledger does not hold", reference.owner, target.noun, in_quotes(reference.id.text)), right);
    }
}

void check_dates(const Draft& draft, const Ledger& all, Problems& problems) {
    std::map<std::string, Date> mixed;
    for (const Bath& bath : all.baths) {
        if (bath.mixed_on) mixed.emplace(bath.id, *bath.mixed_on);
    }
    for (std::size_t i = 0; i < draft.ledger.sessions.size(); ++i) {
        const Session& session = draft.ledger.sessions[i];
        const auto bath = mixed.find(session.bath);
        if (bath == mixed.end() || !session.date || *session.date >= bath->second) continue;
        problems.add(draft.session_dates[i],
                     fmt::format("session {} is on {}, before its bath {} was mixed on {}", in_quotes(session.id), to_string(*session.date),
                                 in_quotes(session.bath), to_string(bath->second)),
                     "correct one of the two dates, or name the bath that was used");
    }
}

void check_sheets(const Draft& draft, Problems& problems) {
    std::map<std::string, Place> files;
    std::map<std::pair<std::string, int>, Place> first_frames;
    for (std::size_t i = 0; i < draft.ledger.sheets.size(); ++i) {
        const Sheet& sheet = draft.ledger.sheets[i];
        if (sheet.file.empty()) continue;
        for (const SheetFile& shot : sheet.further_shots)
            if (const auto [other, is_new_one] = files.emplace(shot.path, draft.sheet_files[i]); !is_new_one)
                problems.add(draft.sheet_files[i], fmt::format("shot {} is already described at line {}", in_quotes(shot.file), other->second.line),
                             "name each file once");
        const auto [earlier, is_new] = files.emplace(sheet.path, draft.sheet_files[i]);
        if (!is_new) {
            problems.add(draft.sheet_files[i], fmt::format("sheet {} is already described at line {}", in_quotes(sheet.file), earlier->second.line),
                         "keep one of the two");
            continue;
        }
        for (std::size_t k = 0; k < sheet.strips.size(); ++k) {
            const SheetStrip& strip = sheet.strips[k];
            if (strip.roll.empty()) continue;
            const Place place = draft.strip_places[i][k];
            const auto [other, fresh] = first_frames.emplace(std::pair(strip.roll, strip.first_frame), place);
            if (fresh) continue;
            problems.add(place,
                         fmt::format("frame {} of roll {} already begins the strip at line {}, column {}", strip.first_frame, in_quotes(strip.roll),
                                     other->second.line, other->second.column),
                         "give each strip the number of its own first frame; leave an older scan of the same strip out");
        }
    }
}

}  // namespace

void cross_check(const Draft& draft, const Ledger& all, Problems& problems) {
    check_references(draft, all, problems);
    check_dates(draft, all, problems);
    check_sheets(draft, problems);
}

}  // namespace basefog::ledger_room
