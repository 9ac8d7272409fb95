// SPDX-License-Identifier: GPL-3.0-or-later
#include "history/columns.h"

#include "basefog/core/sha256.h"

#include <fmt/format.h>
#include <algorithm>
#include <charconv>

namespace basefog::history_room {

const std::vector<Column>& columns() {
    using R = HistoryRoll;
    constexpr bool kTold = false, kMeasured = true, kWhat = true, kWhere = false;
    static const std::vector<Column> kColumns{
        {"roll", &R::roll, kWhat, kTold},
        {"sheets", &R::sheets, kWhat, kTold},
        {"session", &R::session, kWhat, kTold},
        {"session_date", &R::session_date, kWhat, kTold},
        {"process", &R::process, kWhat, kTold},
        {"developer_minutes", &R::developer_minutes, kWhat, kTold},
        {"developer_celsius", &R::developer_celsius, kWhat, kTold},
        {"wash_agent", &R::wash_agent, kWhat, kTold},
        {"wash_grams_per_litre", &R::wash_grams_per_litre, kWhat, kTold},
        {"wash_celsius", &R::wash_celsius, kWhat, kTold},
        {"wash_soak_minutes", &R::wash_soak_minutes, kWhat, kTold},
        {"wash_rinses", &R::wash_rinses, kWhat, kTold},
        {"bath", &R::bath, kWhat, kTold},
        {"bath_mixed_on", &R::bath_mixed_on, kWhat, kTold},
        {"bath_litres", &R::bath_litres, kWhat, kTold},
        {"bath_good_for_rolls", &R::bath_good_for_rolls, kWhat, kTold},
        {"rolls_done_before", &R::rolls_done_before, kWhat, kTold},
        {"bath_age_days", &R::bath_age_days, kWhat, kTold},
        {"stock", &R::stock, kWhat, kTold},
        {"black_and_white", &R::black_and_white, kWhat, kTold},
        {"box_speed", &R::box_speed, kWhat, kTold},
        {"stock_expiry", &R::stock_expiry, kWhat, kTold},
        {"years_past_expiry", &R::years_past_expiry, kWhat, kTold},
        {"rating", &R::rating, kWhat, kTold},
        {"tank", &R::tank, kWhat, kTold},
        {"reel", &R::reel, kWhat, kTold},
        {"strips", &R::strips, kWhat, kMeasured},
        {"pictures", &R::pictures, kWhat, kMeasured},
        {"base_red", &R::base_red, kWhat, kMeasured},
        {"base_green", &R::base_green, kWhat, kMeasured},
        {"base_blue", &R::base_blue, kWhat, kMeasured},
        {"base_red_std", &R::base_red_std, kWhat, kMeasured},
        {"base_green_std", &R::base_green_std, kWhat, kMeasured},
        {"base_blue_std", &R::base_blue_std, kWhat, kMeasured},
        {"slope_red", &R::slope_red, kWhat, kMeasured},
        {"slope_green", &R::slope_green, kWhat, kMeasured},
        {"slope_blue", &R::slope_blue, kWhat, kMeasured},
        {"slope_red_std", &R::slope_red_std, kWhat, kMeasured},
        {"slope_green_std", &R::slope_green_std, kWhat, kMeasured},
        {"slope_blue_std", &R::slope_blue_std, kWhat, kMeasured},
        {"residue_area_percent", &R::residue_area_percent, kWhat, kMeasured},
        {"residue_grade", &R::residue_grade, kWhat, kMeasured},
        {"veil_density", &R::veil_density, kWhat, kMeasured},
        {"streaked_share", &R::streaked_share, kWhat, kMeasured},
        {"outcome", &R::outcome, kWhat, kMeasured},
        {"rated_over_stops", &R::rated_over_stops, kWhat, kMeasured},
        {"spare_stops", &R::spare_stops, kWhat, kMeasured},
        {"shadow_lost_percent", &R::shadow_lost_percent, kWhat, kMeasured},
        {"exposure_stops", &R::exposure_stops, kWhat, kMeasured},
        {"effective_index", &R::effective_index, kWhat, kMeasured},
        {"chart_colour", &R::chart_colour, kWhat, kMeasured},
        {"finished", &R::finished, kWhere, kMeasured},
        {"program_version", &R::program_version, kWhere, kMeasured},
        {"report", &R::report, kWhere, kMeasured},
        {"report_place", &R::report_place, kWhere, kMeasured},
    };
    return kColumns;
}

std::string joined(const std::vector<std::string>& lines) {
    std::string text;
    for (const std::string& line : lines) text += (text.empty() ? "" : "\n") + line;
    return text;
}

std::vector<std::string> split_lines(const std::string& text) {
    std::vector<std::string> lines;
    std::size_t at = 0;
    while (at < text.size()) {
        const std::size_t end = std::min(text.find('\n', at), text.size());
        if (end > at) lines.push_back(text.substr(at, end - at));
        at = end + 1;
    }
    return lines;
}

std::optional<Date> date_from(const std::string& text) {
    if (text.size() != 10 || text[4] != '-' || text[7] != '-') return std::nullopt;
    const auto part = [&](std::size_t from, std::size_t count) {
        unsigned value = 0;
        const char* end = text.data() + from + count;
        const auto [stop, error] = std::from_chars(text.data() + from, end, value);
        return error == std::errc() && stop == end ? std::optional(value) : std::nullopt;
    };
    const auto year = part(0, 4), month = part(5, 2), day = part(8, 2);
    if (!year || !month || !day) return std::nullopt;
    const Date date{std::chrono::year(static_cast<int>(*year)), std::chrono::month(*month), std::chrono::day(*day)};
    return date.ok() ? std::optional(date) : std::nullopt;
}

namespace {

struct AsText {
    const HistoryRoll& roll;
    std::string operator()(Member<std::string> m) const { return roll.*m; }
    std::string operator()(Member<std::vector<std::string>> m) const { return joined(roll.*m); }
    std::string operator()(Member<std::optional<Date>> m) const { return roll.*m ? to_string(*(roll.*m)) : std::string(); }
    std::string operator()(Member<std::optional<double>> m) const { return roll.*m ? fmt::format("{}", *(roll.*m)) : std::string(); }
    std::string operator()(Member<std::optional<int>> m) const { return roll.*m ? fmt::format("{}", *(roll.*m)) : std::string(); }
    std::string operator()(Member<bool> m) const { return roll.*m ? "1" : ""; }
};

}  // namespace

std::string digest_of(const HistoryRoll& roll) {
    std::string all;
    for (const Column& column : columns()) {
        if (!column.in_digest) continue;
        const std::string value = std::visit(AsText{roll}, column.member);
        // The length goes before the text, so that no value can pass for the end of one and the start of the next.
        if (!value.empty()) all += fmt::format("{} {} {}\n", column.name, value.size(), value);
    }
    return sha256(all);
}

int values_told(const HistoryRoll& roll) {
    int told = 0;
    for (const Column& column : columns()) told += std::visit(AsText{roll}, column.member).empty() ? 0 : 1;
    return told;
}

namespace {

/// Sessions contradict each other only when both name and date differ: a name or a date may have been corrected since.
bool sessions_agree(const HistoryRoll& a, const HistoryRoll& b) {
    const bool names_told = !a.session.empty() && !b.session.empty(), dates_told = a.session_date && b.session_date;
    if (!names_told && !dates_told) return true;
    return (names_told && a.session == b.session) || (dates_told && a.session_date == b.session_date);
}

bool share_a_sheet(const HistoryRoll& a, const HistoryRoll& b) {
    return std::any_of(a.sheets.begin(), a.sheets.end(),
                       [&](const std::string& sheet) { return std::find(b.sheets.begin(), b.sheets.end(), sheet) != b.sheets.end(); });
}

}  // namespace

bool same_roll(const HistoryRoll& a, const HistoryRoll& b) { return a.roll == b.roll && sessions_agree(a, b) && share_a_sheet(a, b); }

bool parts_of_one_roll(const HistoryRoll& a, const HistoryRoll& b) {
    return a.roll == b.roll && !a.session.empty() && a.session == b.session && a.session_date == b.session_date && a.stock == b.stock && !share_a_sheet(a, b);
}

}  // namespace basefog::history_room
