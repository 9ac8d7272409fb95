// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/fields.h"

#include "ledger/constants.h"
#include "ledger/dates.h"
#include "ledger/nearest.h"
#include "ledger/text_checks.h"

#include <fmt/format.h>
#include <algorithm>
#include <charconv>
#include <cmath>

namespace basefog::ledger_room {
namespace {

constexpr double kSecondsPerMinute = 60;  // Defined

double celsius_from_fahrenheit(double f) { return (f - 32) * 5 / 9; }  // Defined

/// "3:15" as 3.25.
std::optional<double> clock_minutes(std::string_view text) {
    const std::size_t colon = text.find(':');
    if (colon == std::string_view::npos || colon == 0 || colon > 3 || text.size() != colon + 3) return std::nullopt;
    int minutes = 0, seconds = 0;
    const char* const end = text.data() + text.size();
    const auto m = std::from_chars(text.data(), text.data() + colon, minutes);
    const auto s = std::from_chars(text.data() + colon + 1, end, seconds);
    const bool whole = m.ec == std::errc() && m.ptr == text.data() + colon && s.ec == std::errc() && s.ptr == end;
    if (!whole || minutes < 0 || seconds < 0 || seconds >= kSecondsPerMinute) return std::nullopt;
    return minutes + seconds / kSecondsPerMinute;
}

bool looks_like_number(std::string_view text) {
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value);
    return error == std::errc() && end == text.data() + text.size();
}

std::string unit_after(const Range& range) { return *range.unit ? std::string(" ") + range.unit : ""; }

}  // namespace

std::string type_in_words(const toml::node& node) {
    switch (node.type()) {
        case toml::node_type::table:
            return "a table";
        case toml::node_type::array:
            return "a list";
        case toml::node_type::string:
            return "text";
        case toml::node_type::integer:
        case toml::node_type::floating_point:
            return "a number";
        case toml::node_type::boolean:
            return "true or false";
        case toml::node_type::date:
            return "a date";
        case toml::node_type::time:
            return "a time of day";
        case toml::node_type::date_time:
            return "a date with a time";
        default:
            return "nothing";
    }
}

Fields::Fields(const toml::table& table, std::string owner, Place place, Problems& problems)
    : table_(table), owner_(std::move(owner)), place_(place), problems_(problems) {}

const toml::node* Fields::any(std::string_view key) {
    known_.emplace_back(key);
    return table_.get(key);
}

void Fields::wrong_type(std::string_view key, const toml::node& node, std::string_view wanted, std::string_view example) {
    problems_.add(place_of(node), fmt::format("\"{}\" of {} is {}, but must be {}", key, owner_, type_in_words(node), wanted),
                  fmt::format("for example {} = {}", key, example));
}

void Fields::wrong_value(std::string_view key, const toml::node& node, const std::string& why, const std::string& right) {
    problems_.add(place_of(node), fmt::format("\"{}\" of {} {}", key, owner_, why), right);
}

std::optional<double> Fields::number_in(std::string_view key, const toml::node& node, Range range) {
    if (!node.is_number()) {
        const toml::value<std::string>* text = node.as_string();
        const bool only_quotes = text && looks_like_number(text->get());
        wrong_type(key, node, "a number", only_quotes ? std::string_view(text->get()) : std::string_view(range.example));
        return std::nullopt;
    }
    const double value = node.value<double>().value_or(std::nan(""));
    if (value >= range.low && value <= range.high) return value;
    std::string right = fmt::format("for example {} = {}", key, range.example);
    const double from_fahrenheit = celsius_from_fahrenheit(value);
    if (range.unit == std::string_view("°C") && from_fahrenheit >= range.low && from_fahrenheit <= range.high) {
        right = fmt::format("{} °F would be {:.1f} °C", value, from_fahrenheit);
    }
    wrong_value(key, node, fmt::format("is {}, outside {} to {}{}", value, range.low, range.high, unit_after(range)), right);
    return std::nullopt;
}

std::optional<double> Fields::number(std::string_view key, Range range) {
    const toml::node* node = any(key);
    return node ? number_in(key, *node, range) : std::nullopt;
}

std::optional<int> Fields::whole(std::string_view key, Range range) {
    const toml::node* node = any(key);
    const auto value = node ? number_in(key, *node, range) : std::nullopt;
    if (!value) return std::nullopt;
    if (*value != std::floor(*value)) {
        wrong_value(key, *node, fmt::format("is {}, but must be a whole number", *value), fmt::format("for example {} = {}", key, range.example));
        return std::nullopt;
    }
    return static_cast<int>(*value);
}

std::optional<double> Fields::minutes(std::string_view key, Range range) {
    const toml::node* node = any(key);
    if (!node) return std::nullopt;
    const toml::value<std::string>* text = node->as_string();
    const auto clock = text ? clock_minutes(text->get()) : std::nullopt;
    if (!clock) return number_in(key, *node, range);
    if (*clock >= range.low && *clock <= range.high) return clock;
    wrong_value(key, *node, fmt::format("is {}, outside {} to {} minutes", in_quotes(text->get()), range.low, range.high),
                fmt::format("for example {} = {}", key, range.example));
    return std::nullopt;
}

bool Fields::fits_line(std::string_view key, const toml::node& node, const std::string& text, std::size_t longest, bool lines) {
    if (has_control(text, lines)) {
        const char* const right = lines ? "delete the character, or write what it stands for" : "write one line of plain text";
        wrong_value(key, node, fmt::format("holds a control character: {}", in_quotes(text)), right);
        return false;
    }
    if (code_points(text).size() <= longest) return true;
    wrong_value(key, node, fmt::format("is longer than {} characters", longest), "shorten it");
    return false;
}

std::optional<Named> Fields::text(std::string_view key, std::string_view example) {
    const toml::node* node = any(key);
    if (!node) return std::nullopt;
    const toml::value<std::string>* value = node->as_string();
    if (!value) {
        wrong_type(key, *node, "text in quotes", example);
        return std::nullopt;
    }
    if (value->get().empty() || !fits_line(key, *node, value->get(), kMaxLineLength, false)) return std::nullopt;
    return Named{value->get(), place_of(*node)};
}

std::optional<Named> Fields::required_text(std::string_view key, std::string_view example) {
    const toml::node* node = table_.get(key);
    const bool empty = node && node->is_string() && node->as_string()->get().empty();
    if (!node) missing(key, example);
    if (empty) wrong_value(key, *node, "is empty", fmt::format("for example {} = {}", key, example));
    return text(key, example);
}

std::string Fields::plain_text(std::string_view key, std::string_view example) {
    auto found = text(key, example);
    return found ? std::move(found->text) : std::string();
}

std::string Fields::note(std::string_view key) {
    const toml::node* node = any(key);
    if (!node) return {};
    const toml::value<std::string>* value = node->as_string();
    if (!value) {
        wrong_type(key, *node, "text in quotes", "\"a few words\"");
        return {};
    }
    return fits_line(key, *node, value->get(), kMaxNoteLength, true) ? value->get() : std::string();
}

std::optional<Date> Fields::date_in(std::string_view key, bool month_will_do) {
    const toml::node* node = any(key);
    if (!node) return std::nullopt;
    const std::string_view wanted = month_will_do ? "a date, a month or a year" : "a date";
    const std::string_view example = month_will_do ? "2014-06-30 or \"2014-06\"" : "2026-03-14";
    std::optional<Date> date;
    if (const auto* native = node->as_date()) {
        const toml::date d = native->get();
        date = Date{std::chrono::year(d.year), std::chrono::month(d.month), std::chrono::day(d.day)};
    } else if (const auto* text = node->as_string()) {
        date = month_will_do ? parse_date_or_month(text->get()) : parse_date(text->get());
        if (!date) {
            wrong_value(key, *node, fmt::format("is {}, which is not {} in the calendar", in_quotes(text->get()), wanted),
                        fmt::format("year-month-day, for example {} = {}", key, example));
            return std::nullopt;
        }
    } else if (const auto* year = node->as_integer(); year && month_will_do) {
        date = parse_date_or_month(std::to_string(year->get()));
    } else {
        wrong_type(key, *node, wanted, example);
        return std::nullopt;
    }
    if (date && in_calendar(*date)) return date;
    wrong_value(key, *node, fmt::format("is not between the years {} and {}", kFirstYear, kLastYear), fmt::format("for example {} = {}", key, example));
    return std::nullopt;
}

std::optional<Date> Fields::date(std::string_view key) { return date_in(key, false); }
std::optional<Date> Fields::date_or_month(std::string_view key) { return date_in(key, true); }

std::optional<bool> Fields::flag(std::string_view key) {
    const toml::node* node = any(key);
    if (!node) return std::nullopt;
    if (const auto* value = node->as_boolean()) return value->get();
    wrong_type(key, *node, "true or false", "true");
    return std::nullopt;
}

const toml::table* Fields::table(std::string_view key, std::string_view example) {
    const toml::node* node = any(key);
    if (!node || node->is_table()) return node ? node->as_table() : nullptr;
    problems_.add(place_of(*node), fmt::format("\"{}\" of {} is {}, but must be a table", key, owner_, type_in_words(*node)),
                  fmt::format("for example {}", example));
    return nullptr;
}

const toml::array* Fields::array(std::string_view key, std::string_view example) {
    const toml::node* node = any(key);
    if (!node || node->is_array()) return node ? node->as_array() : nullptr;
    problems_.add(place_of(*node), fmt::format("\"{}\" of {} is {}, but must be a list", key, owner_, type_in_words(*node)),
                  fmt::format("for example {}", example));
    return nullptr;
}

void Fields::missing(std::string_view key, std::string_view example) {
    problems_.add(place_, fmt::format("{} has no \"{}\"", owner_, key), fmt::format("add, for example, {} = {}", key, example));
}

void Fields::reject_unknown() {
    for (const Entry& entry : entries_in_order(table_)) {
        if (std::find(known_.begin(), known_.end(), entry.name) != known_.end()) continue;
        const std::string hint = problems_.want_hints() ? suggestion(entry.name, known_, "keys") : std::string();
        problems_.add(entry.place, fmt::format("unknown key {} in {}", in_quotes(entry.name), owner_), hint);
    }
}

std::vector<Entry> entries_in_order(const toml::table& table) {
    std::vector<Entry> entries;
    entries.reserve(table.size());
    for (const auto& [key, value] : table) entries.push_back({std::string(key.str()), place_of(key.source()), &value});
    std::stable_sort(entries.begin(), entries.end(), [](const Entry& a, const Entry& b) { return a.place < b.place; });
    return entries;
}

bool check_name(const std::string& name, std::string_view what, Place place, Problems& problems) {
    std::string wrong;
    if (trimmed(name).empty()) {
        wrong = fmt::format("{} is empty", what);
    } else if (has_control(name, false)) {
        wrong = fmt::format("{}, {}, holds a control character", what, in_quotes(name));
    } else if (trimmed(name).size() != name.size()) {
        wrong = fmt::format("{}, {}, begins or ends with a space", what, in_quotes(name));
    } else if (code_points(name).size() > kMaxNameLength) {
        wrong = fmt::format("{}, {}, is longer than {} characters", what, in_quotes(name), kMaxNameLength);
    }
    if (wrong.empty()) return true;
    problems.add(place, wrong, "use a short name in plain letters, such as R1 or \"winter roll 2\"");
    return false;
}

}  // namespace basefog::ledger_room
