// SPDX-License-Identifier: GPL-3.0-or-later
// An invented history with everything its page can hold. No number here was measured.
#pragma once

#include "basefog/history/types.h"

#include <string>

namespace basefog::sample {

/// Two baths, one tiring, in the shape the trends come in.
inline HistoryTrends trends(const std::string& name = "R") {
    HistoryTrends all;
    for (int i = 0; i < 12; ++i) {
        HistoryRoll roll;
        roll.roll = name + std::to_string(i);
        roll.session = "s" + std::to_string(i / 4);
        roll.session_date = Date(std::chrono::year(2026), std::chrono::month(1), std::chrono::day(static_cast<unsigned>(1 + i)));
        roll.stock = name + " stock";
        roll.bath = name + " bath";
        roll.tank = name + " tank";
        roll.rolls_done_before = i / 4 * 4;
        roll.report = "/results/" + name + std::to_string(i / 4) + "/report.html";
        roll.report_place = i % 4 + 1;
        all.rolls.push_back(roll);
    }
    BathTrend bath;
    bath.bath = name + " bath";
    bath.good_for_rolls = 6;
    bath.rolls = 12;
    bath.rolls_done = 12;
    bath.state = BathState::tiring;
    bath.text = name + " is tiring <&\">";
    for (int m = 0; m < kMeasures; ++m)
        for (const Wear wear : {Wear::rolls_done, Wear::days}) {
            TrendLine line;
            line.measure = static_cast<Measure>(m);
            line.wear = wear;
            line.slope = 0.01;
            line.interval = Bounds{0.005, 0.015};
            line.y_middle = 0.5;
            line.x_middle = 4;
            line.claimed = m % 2 == 0;
            for (int i = 0; i < 12; ++i) line.points.push_back({i, i / 4 * 4.0, 0.5 + 0.01 * i, i == 7});
            bath.lines.push_back(line);
        }
    all.baths = {bath, BathTrend{}};
    HabitSummary wash;
    wash.name = name + " wash";
    wash.rolls = 12;
    wash.residue_percent = 2;
    wash.residue_interval = Bounds{1, 3};
    for (int i = 0; i < 12; ++i) {
        wash.members.push_back(i);
        wash.area.push_back(i == 0 ? 0 : i);
    }
    all.washes = {wash};
    wash.habit = Habit::tank;
    all.tanks = {wash};
    Comparison comparison;
    comparison.text = name + " against <b>";
    comparison.claimed = true;
    all.comparisons = {comparison};
    StockAge age;
    age.stock = name + " stock";
    age.box_speed = 500;
    age.index = 160;
    age.interval = Bounds{125, 200};
    age.ratings = {{200, 5, 3, 1, 1}};
    for (int i = 0; i < 12; ++i) age.points.push_back({i, 0, 100.0 + 10 * i, false});
    all.stocks = {age};
    return all;
}

}  // namespace basefog::sample
