// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/dates.h"

#include "ledger/constants.h"

#include <fmt/format.h>

namespace basefog {

std::string to_string(Date date) {
    return fmt::format("{:04}-{:02}-{:02}", static_cast<int>(date.year()), static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
}

namespace ledger_room {
namespace {

/// The number of exactly `count` digits at `at`, or -1.
int digits(std::string_view text, std::size_t at, std::size_t count) {
    if (text.size() < at + count) return -1;
    int number = 0;
    for (std::size_t i = at; i < at + count; ++i) {
        if (text[i] < '0' || text[i] > '9') return -1;
        number = number * 10 + (text[i] - '0');
    }
    return number;
}

}  // namespace

bool in_calendar(Date date) {
    const int year = static_cast<int>(date.year());
    return date.ok() && year >= kFirstYear && year <= kLastYear;
}

std::optional<Date> parse_date(std::string_view text) {
    const int year = digits(text, 0, 4), month = digits(text, 5, 2), day = digits(text, 8, 2);
    if (text.size() != 10 || text[4] != '-' || text[7] != '-' || year < 0 || month < 0 || day < 0) return std::nullopt;
    const Date date{std::chrono::year(year), std::chrono::month(static_cast<unsigned>(month)), std::chrono::day(static_cast<unsigned>(day))};
    return in_calendar(date) ? std::optional(date) : std::nullopt;
}

std::optional<Date> parse_date_or_month(std::string_view text) {
    const int year = digits(text, 0, 4);
    if (year < 0) return std::nullopt;
    if (text.size() == 4) return parse_date(std::string(text) + "-12-31");
    const int month = digits(text, 5, 2);
    if (text.size() != 7 || text[4] != '-' || month < 1 || month > 12) return parse_date(text);
    const Date last(std::chrono::year(year) / std::chrono::month(static_cast<unsigned>(month)) / std::chrono::last);
    return in_calendar(last) ? std::optional(last) : std::nullopt;
}

}  // namespace ledger_room
}  // namespace basefog
