// SPDX-License-Identifier: GPL-3.0-or-later
// Invented years as the module reads them, and what of its claims was planted.
#pragma once

#include "basefog/history/find_trends.h"
#include "basefog/history/read_results.h"

#include "support/synthetic_history.h"

#include <catch2/catch.hpp>

namespace basefog {

inline std::vector<HistoryRoll> rolls_of(const synthetic::Years& years) {
    std::vector<HistoryRoll> rolls;
    for (const synthetic::SessionReport& session : years.sessions) {
        const auto read = parse_results(session.json, session.folder + "/report.json", "/results/" + session.folder + "/report.html");
        INFO((read ? std::string() : describe(read.error())));
        REQUIRE(read);
        rolls.insert(rolls.end(), read->begin(), read->end());
    }
    return rolls;
}

inline HistoryTrends trends_of(const synthetic::YearsSpec& spec) { return find_trends(rolls_of(synthetic::simulate_years(spec)), TrendOptions{}).value(); }

/// The true slope of a litre's line against rolls done.
inline double true_slope(const synthetic::LitreTruth& litre, Measure measure) {
    switch (measure) {
        case Measure::base_red:
            return litre.base_per_roll[0];
        case Measure::base_green:
            return litre.base_per_roll[1];
        case Measure::base_blue:
            return litre.base_per_roll[2];
        case Measure::slope:
            return litre.slope_per_roll;
        case Measure::crossover_blue:
            return litre.blue_ratio_per_roll;
        default:
            return 0;
    }
}

struct Tally {
    int planted_found = 0, planted_missed = 0, false_claims = 0;
    int covered = 0, intervals = 0;
};

/// Counts the claims of one run of years against its truth.
inline Tally tally(const HistoryTrends& trends, const synthetic::YearsTruth& truth, bool planted) {
    Tally t;
    for (std::size_t b = 0; b < trends.baths.size(); ++b) {
        const synthetic::LitreTruth& litre = truth.litres.at(b);
        for (int m = 0; m < kMeasures; ++m) {
            const double slope = true_slope(litre, static_cast<Measure>(m));
            bool claimed = false;
            for (const TrendLine& line : trends.baths[b].lines) {
                if (line.measure != static_cast<Measure>(m)) continue;
                claimed = claimed || line.claimed;
                // Days have a true slope only where nothing changes.
                if (line.interval && line.rolls >= trends.min_rolls && line.sessions >= 3 && (line.wear == Wear::rolls_done || slope == 0)) {
                    ++t.intervals;
                    t.covered += line.interval->low <= slope && slope <= line.interval->high ? 1 : 0;
                }
            }
            if (slope == 0)
                t.false_claims += claimed ? 1 : 0;
            else
                ++(claimed ? t.planted_found : t.planted_missed);
        }
    }
    for (const Comparison& c : trends.comparisons) {
        const bool bad_tank = c.habit == Habit::tank && (c.a == truth.streaking_tank || c.b == truth.streaking_tank);
        const bool real = planted && (bad_tank || (c.habit == Habit::wash && c.mark == Mark::residue));
        if (!real)
            t.false_claims += c.claimed ? 1 : 0;
        else
            ++(c.claimed ? t.planted_found : t.planted_missed);
    }
    for (const ReelTrend& reel : trends.reels) t.false_claims += reel.claimed ? 1 : 0;
    for (const AgeTrend& age : trends.ages) t.false_claims += age.claimed ? 1 : 0;
    return t;
}

}  // namespace basefog
