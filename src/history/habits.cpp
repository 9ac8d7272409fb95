// SPDX-License-Identifier: GPL-3.0-or-later
// Washes, tanks and places in a tank against each other. Rolls that went through together count once: what is compared are
// sessions of a wash, and runs of a tank (a session's rolls in it).
#include "basefog/history/find_trends.h"

#include "history/constants.h"
#include "history/rank_tests.h"
#include "history/trends.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <set>

namespace basefog::history_room {
namespace {

/// The rolls of one session in one tank.
struct Run {
    std::string session, wash, tank;
    std::vector<int> rolls;
    double residue = 0;   // mean log10
    double streaked = 0;  // mean share of strips
    [[nodiscard]] double value(Mark mark) const { return mark == Mark::residue ? residue : streaked; }
    [[nodiscard]] const std::string& name(Habit habit) const { return habit == Habit::wash ? wash : tank; }
};

std::vector<Run> list_runs(const std::vector<HistoryRoll>& rolls) {
    std::map<std::tuple<std::string, std::string, std::string>, Run> runs;
    for (std::size_t i = 0; i < rolls.size(); ++i) {
        const HistoryRoll& roll = rolls[i];
        if (!roll.residue_area_percent) continue;
        std::string session = roll.session + '\x1f' + (roll.session_date ? to_string(*roll.session_date) : std::string());
        if (session.size() == 1) session += std::to_string(i);
        Run& run = runs[{session, wash_recipe(roll), roll.tank}];
        run.session = session;
        run.wash = wash_recipe(roll);
        run.tank = roll.tank;
        run.rolls.push_back(static_cast<int>(i));
        run.residue += log_residue(*roll.residue_area_percent);
        run.streaked += roll.streaked_share.value_or(0);
    }
    std::vector<Run> list;
    for (auto& [key, run] : runs) {
        run.residue /= static_cast<double>(run.rolls.size());
        run.streaked /= static_cast<double>(run.rolls.size());
        list.push_back(std::move(run));
    }
    return list;
}

using Effects = std::map<std::string, double>;

/// What each wash and each tank adds, by taking medians off in turn [Tukey1977]; so that a wash used mostly in a bad tank is not blamed for it.
std::pair<Effects, Effects> polish(const std::vector<Run>& runs, Mark mark) {
    constexpr int kRounds = 8;  // Chosen: changes die out after three or four
    Effects wash, tank;
    const auto update = [&](Effects& own, const Effects& other, Habit habit) {
        std::map<std::string, std::vector<double>> rest;
        for (const Run& run : runs) {
            const auto taken = other.find(run.name(habit == Habit::wash ? Habit::tank : Habit::wash));
            rest[run.name(habit)].push_back(run.value(mark) - (taken == other.end() ? 0 : taken->second));
        }
        for (auto& [name, values] : rest) own[name] = median(std::move(values));
    };
    for (int round = 0; round < kRounds; ++round) {
        update(wash, tank, Habit::wash);
        // Heights are the washes' to carry: tanks add what differs.
        update(tank, wash, Habit::tank);
    }
    return {wash, tank};
}

/// Groups to compare: values, rolls, by name of wash or tank.
struct Group {
    std::vector<double> values;
    int rolls = 0;
};

std::map<std::string, Group> group(const std::vector<Run>& runs, Habit habit, Mark mark) {
    const auto [wash, tank] = polish(runs, mark);
    std::map<std::string, std::map<std::string, std::pair<double, int>>> sums;  // name -> session -> sum, runs
    std::map<std::string, Group> groups;
    for (const Run& run : runs) {
        if (run.name(habit).empty()) continue;
        const double other = habit == Habit::wash ? tank.at(run.tank) : wash.at(run.wash);
        auto& [sum, count] = sums[run.name(habit)][run.session];
        sum += run.value(mark) - other;
        ++count;
        groups[run.name(habit)].rolls += static_cast<int>(run.rolls.size());
    }
    for (const auto& [name, sessions] : sums)
        for (const auto& [session, sum] : sessions) groups[name].values.push_back(sum.first / sum.second);
    return groups;
}

Comparison compare(Habit habit, Mark mark, const std::pair<const std::string, Group>& a, const std::pair<const std::string, Group>& b,
                   const TrendOptions& options) {
    Comparison comparison;
    comparison.habit = habit;
    comparison.mark = mark;
    comparison.a = a.first;
    comparison.b = b.first;
    comparison.rolls_a = a.second.rolls;
    comparison.rolls_b = b.second.rolls;
    comparison.groups_a = static_cast<int>(a.second.values.size());
    comparison.groups_b = static_cast<int>(b.second.values.size());
    const Shift shift = rank_sum_shift(a.second.values, b.second.values, options.level);
    const auto shown = [&](double v) { return mark == Mark::residue ? std::pow(10.0, v) : v; };
    comparison.size = shown(shift.value);
    if (shift.interval) comparison.interval = Bounds{shown(shift.interval->low), shown(shift.interval->high)};
    const bool enough = comparison.rolls_a >= options.min_rolls && comparison.rolls_b >= options.min_rolls && comparison.groups_a >= options.min_sessions &&
                        comparison.groups_b >= options.min_sessions;
    if (enough) comparison.p_value = shift.p_value;
    return comparison;
}

std::vector<HabitSummary> summarise(const HistoryTrends& trends, const std::vector<Run>& runs, Habit habit, double level) {
    std::map<std::string, HabitSummary> all;
    std::map<std::string, std::set<std::string>> sessions;
    for (const Run& run : runs) {
        const std::string& name = run.name(habit);
        if (name.empty()) continue;
        HabitSummary& summary = all[name];
        summary.habit = habit;
        summary.name = name;
        sessions[name].insert(run.session);
        for (const int roll : run.rolls) {
            summary.members.push_back(roll);
            summary.area.push_back(*trends.rolls[static_cast<std::size_t>(roll)].residue_area_percent);
            summary.streaked += trends.rolls[static_cast<std::size_t>(roll)].streaked_share.value_or(0) >= kStreaked ? 1 : 0;
        }
    }
    std::vector<HabitSummary> list;
    for (auto& [name, summary] : all) {
        const MedianEstimate middle = median_with_interval(summary.area, level);
        summary.rolls = static_cast<int>(summary.members.size());
        summary.groups = static_cast<int>(sessions[name].size());
        summary.residue_percent = middle.value;
        if (middle.interval) summary.residue_interval = Bounds{middle.interval->low, middle.interval->high};
        list.push_back(std::move(summary));
    }
    return list;
}

/// Chosen: pairs of recipes grow as the square of their number; the best-filled ones are the ones worth asking about.
constexpr std::size_t kMostCompared = 8;

void compare_all(HistoryTrends& trends, const std::vector<Run>& runs, Habit habit, Mark mark, const TrendOptions& options) {
    std::vector<std::pair<const std::string, Group>> groups;
    for (auto& one : group(runs, habit, mark)) groups.push_back(one);
    std::vector<std::size_t> order(groups.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = i;
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return groups[a].second.rolls > groups[b].second.rolls; });
    order.resize(std::min(order.size(), kMostCompared));
    std::sort(order.begin(), order.end());
    for (std::size_t i = 0; i < order.size(); ++i)
        for (std::size_t j = i + 1; j < order.size(); ++j) trends.comparisons.push_back(compare(habit, mark, groups[order[i]], groups[order[j]], options));
}

}  // namespace

void find_habits(HistoryTrends& trends, const TrendOptions& options) {
    const std::vector<Run> runs = list_runs(trends.rolls);
    trends.washes = summarise(trends, runs, Habit::wash, options.level);
    trends.tanks = summarise(trends, runs, Habit::tank, options.level);
    for (const Habit habit : {Habit::wash, Habit::tank})
        for (const Mark mark : {Mark::residue, Mark::streaks}) compare_all(trends, runs, habit, mark, options);
}

void find_reel_trends(HistoryTrends& trends, const TrendOptions& options) {
    for (const HabitSummary& tank : trends.tanks) {
        std::map<std::string, std::vector<Point>> runs;
        ReelTrend reel;
        reel.tank = tank.name;
        for (std::size_t i = 0; i < tank.members.size(); ++i) {
            const HistoryRoll& roll = trends.rolls[static_cast<std::size_t>(tank.members[i])];
            if (!roll.reel || (roll.session.empty() && !roll.session_date)) continue;
            const double y = log_residue(tank.area[i]);
            runs[roll.session + '\x1f' + (roll.session_date ? to_string(*roll.session_date) : std::string())].push_back({static_cast<double>(*roll.reel), y});
            reel.points.push_back({tank.members[i], static_cast<double>(*roll.reel), y, false});
        }
        std::vector<std::vector<Point>> strata;
        for (auto& [session, points] : runs) {
            if (points.size() < 2) continue;
            reel.rolls += static_cast<int>(points.size());
            ++reel.runs;
            strata.push_back(std::move(points));
        }
        const auto line = theil_sen_within(strata, options.level);
        if (!line) continue;
        reel.slope = line->slope;
        if (line->interval) reel.interval = Bounds{line->interval->low, line->interval->high};
        if (reel.rolls >= options.min_rolls && reel.runs >= options.min_sessions) reel.p_value = line->p_value;
        trends.reels.push_back(std::move(reel));
    }
}

}  // namespace basefog::history_room
