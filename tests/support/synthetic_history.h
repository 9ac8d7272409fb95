// SPDX-License-Identifier: GPL-3.0-or-later
// Two invented years of a photographer who develops at home: the reports of every session, and the truth behind them kept apart.
#pragma once

#include <array>
#include <cstdint>
#include <map>
#include <string>
#include <vector>

namespace synthetic {

struct YearsSpec {
    std::uint64_t seed = 1;
    bool planted = true;  ///< false: nothing depends on anything, all is chance
    int rolls = 120, litres = 8;
    double session_scatter = 1;  ///< times the usual scatter between sessions
    double fogged_share = 0.01;  ///< of rolls that saw light: far off all others
};

/// One litre's true change per roll. The over-used one alone changes.
struct LitreTruth {
    std::string name, mixed_on;
    int rolls = 0;
    std::array<double, 3> base_per_roll{};  ///< red, green, blue; density
    double slope_per_roll = 0;              ///< of the green layer
    double blue_ratio_per_roll = 0;         ///< blue layer's slope over the green's; the red's does not change
};

struct YearsTruth {
    std::vector<LitreTruth> litres;
    std::string over_used;                 ///< name of that litre, with its day
    std::string streaking_tank;            ///< and leaves more backing
    std::string careful_wash, hasty_wash;  ///< recipes in the report's terms: agent
    double hasty_ratio = 1;                ///< backing the hasty one leaves, times
    double streaking_ratio = 1;            ///< and that tank
    std::map<std::string, double> index;   ///< exposure index each stock needs
};

struct SessionReport {
    std::string folder;  ///< "2024-03-14"
    std::string json;    ///< as report.json, valid by its schema
};

struct Years {
    std::vector<SessionReport> sessions;  ///< in order of their days
    YearsTruth truth;
};

[[nodiscard]] Years simulate_years(const YearsSpec& spec);
[[nodiscard]] std::string truth_json(const YearsTruth& truth);

}  // namespace synthetic
