// SPDX-License-Identifier: GPL-3.0-or-later
// Per stock and age: the exposure index rolls would have needed, and the ratings that paid off.
#include "basefog/history/find_trends.h"

#include "history/constants.h"
#include "history/rank_tests.h"
#include "history/trends.h"

#include <algorithm>
#include <cmath>
#include <map>

namespace basefog::history_room {

std::optional<double> needed_index(const HistoryRoll& roll) {
    if (!roll.rating || !roll.spare_stops || roll.outcome == "cannot_tell") return std::nullopt;
    // How far a thin roll fell short is not told; that it did is, so it counts as this much short. The middle of many hardly minds.
    const double stops = roll.outcome == "not_enough" ? -kThinStops : *roll.spare_stops;
    return *roll.rating * std::exp2(stops);
}

namespace {

void count_rating(std::map<double, RatingCount>& ratings, const HistoryRoll& roll) {
    if (!roll.rating || roll.outcome.empty() || roll.outcome == "cannot_tell") return;
    RatingCount& count = ratings[*roll.rating];
    count.rating = *roll.rating;
    ++count.rolls;
    count.paid_off += roll.outcome == "paid_off" || roll.outcome == "at_box_speed" ? 1 : 0;
    count.more_than_needed += roll.outcome == "more_than_needed" ? 1 : 0;
    count.not_enough += roll.outcome == "not_enough" ? 1 : 0;
}

void as_index(std::vector<double> log2_values, double level, std::optional<double>& index, std::optional<Bounds>& bounds) {
    if (log2_values.empty()) return;
    const MedianEstimate middle = median_with_interval(std::move(log2_values), level);
    index = std::exp2(middle.value);
    if (middle.interval) bounds = Bounds{std::exp2(middle.interval->low), std::exp2(middle.interval->high)};
}

StockAge sum_up(const HistoryTrends& trends, const std::vector<int>& members, std::optional<int> years, double level) {
    StockAge age;
    age.years = years;
    std::vector<double> stops, speeds;
    std::map<double, RatingCount> ratings;
    for (const int i : members) {
        const HistoryRoll& roll = trends.rolls[static_cast<std::size_t>(i)];
        age.stock = roll.stock;
        if (roll.box_speed) age.box_speed = roll.box_speed;
        ++age.rolls;
        count_rating(ratings, roll);
        if (roll.effective_index) speeds.push_back(std::log2(*roll.effective_index));
        if (const auto index = needed_index(roll)) {
            stops.push_back(std::log2(*index));
            age.points.push_back({i, roll.years_past_expiry.value_or(0), *index, false});
        }
    }
    for (const auto& [rating, count] : ratings) age.ratings.push_back(count);
    age.speed_rolls = static_cast<int>(speeds.size());
    as_index(std::move(speeds), level, age.speed, age.speed_interval);
    as_index(std::move(stops), level, age.index, age.interval);
    return age;
}

/// Sessions, not rolls: rolls of one day share its light and meter.
AgeTrend age_trend(const HistoryTrends& trends, const std::string& stock, const std::vector<int>& members, const TrendOptions& options) {
    std::map<std::string, std::pair<std::vector<double>, std::vector<double>>> sessions;
    AgeTrend trend;
    trend.stock = stock;
    const auto has_speed = [&](int i) { return trends.rolls[static_cast<std::size_t>(i)].effective_index.has_value(); };
    const bool by_speed = std::count_if(members.begin(), members.end(), has_speed) >= options.min_rolls;
    for (const int i : members) {
        const HistoryRoll& roll = trends.rolls[static_cast<std::size_t>(i)];
        const auto index = by_speed ? roll.effective_index : needed_index(roll);
        if (!index || !roll.years_past_expiry) continue;
        const std::string session = roll.session + '\x1f' + (roll.session_date ? to_string(*roll.session_date) : std::to_string(i));
        sessions[session].first.push_back(*roll.years_past_expiry);
        sessions[session].second.push_back(std::log2(*index));
        ++trend.rolls;
    }
    trend.sessions = static_cast<int>(sessions.size());
    std::vector<double> x, y;
    for (const auto& [session, values] : sessions) {
        x.push_back(median(values.first));
        y.push_back(median(values.second));
    }
    const auto line = theil_sen(x, y, options.level);
    if (!line) return trend;
    trend.slope = line->slope;
    if (line->interval) trend.interval = Bounds{line->interval->low, line->interval->high};
    const auto [low, high] = std::minmax_element(x.begin(), x.end());
    if (trend.rolls >= options.min_rolls && trend.sessions >= kAgeSessions && *high - *low >= kAgeSpan) trend.p_value = line->p_value;
    return trend;
}

}  // namespace

void find_stocks(HistoryTrends& trends, const TrendOptions& options) {
    std::map<std::string, std::map<std::optional<int>, std::vector<int>>> stocks;
    for (std::size_t i = 0; i < trends.rolls.size(); ++i) {
        const HistoryRoll& roll = trends.rolls[i];
        if (roll.stock.empty()) continue;
        const auto band = roll.years_past_expiry ? std::optional(static_cast<int>(std::floor(*roll.years_past_expiry / kAgeBand)) * kAgeBand) : std::nullopt;
        stocks[roll.stock][band].push_back(static_cast<int>(i));
    }
    for (const auto& [stock, bands] : stocks) {
        std::vector<int> all;
        for (const auto& [band, members] : bands) {
            trends.stocks.push_back(sum_up(trends, members, band, options.level));
            all.insert(all.end(), members.begin(), members.end());
        }
        AgeTrend trend = age_trend(trends, stock, all, options);
        if (trend.slope) trends.ages.push_back(std::move(trend));
    }
}

}  // namespace basefog::history_room
