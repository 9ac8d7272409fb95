// SPDX-License-Identifier: GPL-3.0-or-later
// The trail over years: what each roll's results said, and what the rolls say together about baths, tanks, washes and stocks.
#pragma once

#include "basefog/core/units.h"
#include "basefog/ledger/types.h"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace basefog {

/// One roll as one run of the program saw it: flat, so that it is a row of a table. What is not known is absent or empty.
struct HistoryRoll {
    std::string roll;
    std::vector<std::string> sheets;  ///< the scans it lies on, see docs/history.md: name, size in pixels, date of the scan

    // as told
    std::string session, process;
    std::optional<Date> session_date;
    std::optional<double> developer_minutes, developer_celsius;
    std::string wash_agent;
    std::optional<double> wash_grams_per_litre, wash_celsius, wash_soak_minutes;
    std::optional<int> wash_rinses;
    std::string bath;
    std::optional<Date> bath_mixed_on;
    std::optional<double> bath_litres;
    std::optional<int> bath_good_for_rolls, rolls_done_before, bath_age_days;
    std::string stock;
    bool black_and_white = false;
    std::optional<double> box_speed, years_past_expiry, rating;
    std::optional<Date> stock_expiry;
    std::string tank;
    std::optional<int> reel;  ///< 1 at the bottom

    // as measured
    std::optional<int> strips, pictures;
    std::optional<double> base_red, base_green, base_blue;              ///< base + fog, density against bare light
    std::optional<double> base_red_std, base_green_std, base_blue_std;  ///< one standard uncertainty
    std::optional<double> slope_red, slope_green, slope_blue;           ///< density per log10 H; absent where assumed, not measured
    std::optional<double> slope_red_std, slope_green_std, slope_blue_std;
    std::optional<double> residue_area_percent, veil_density;
    std::string residue_grade;
    std::optional<double> streaked_share;  ///< of its strips, 0 to 1: residue in streaks along the travel
    std::string outcome;                   ///< of the rating: paid_off, more_than_needed, not_enough, at_box_speed, cannot_tell
    std::optional<double> rated_over_stops, spare_stops, shadow_lost_percent;
    std::optional<double> exposure_stops;   ///< middle frame against the stock's aim
    std::optional<double> effective_index;  ///< speed as measured, as an exposure index; since layout 2 of the file
    /// Where a colour chart was photographed on it, 18 numbers: shares of a neutral and scene from layers, row by row (FilmModel::by_chart); since
    /// layout 3.
    std::string chart_colour;

    // where it came from
    std::string finished, program_version;  ///< finished: ISO 8601
    std::string report;                     ///< absolute path of the page to read
    std::optional<int> report_place;        ///< number of the roll on that page, from 1

    friend bool operator==(const HistoryRoll&, const HistoryRoll&) = default;
};

/// What an interval covers with the stated probability.
struct Bounds {
    double low = 0, high = 0;
    friend bool operator==(const Bounds&, const Bounds&) = default;
};

/// What is followed through a bath's life. Crossover: slope of the red or blue layer over that of the green.
enum class Measure { base_red, base_green, base_blue, slope, crossover_red, crossover_blue, residue };
inline constexpr int kMeasures = 7;
/// What it is followed against.
enum class Wear { rolls_done, days };

struct TrendPoint {
    int roll = 0;            ///< index into HistoryTrends::rolls
    double x = 0, y = 0;     ///< y at the bath's mean height: what its stock adds is taken off
    bool set_aside = false;  ///< far off the other rolls of its session; took no part in the line
    friend bool operator==(const TrendPoint&, const TrendPoint&) = default;
};

/// One answer to "does this change with that?". Residue goes by log10 of (area in percent + 0.1).
struct TrendLine {
    Measure measure = Measure::base_red;
    Wear wear = Wear::rolls_done;
    int rolls = 0, sessions = 0;
    std::optional<double> slope;  ///< per roll or per day
    std::optional<Bounds> interval;
    double x_middle = 0, y_middle = 0;  ///< a point on the line
    std::optional<double> p_value;      ///< absent: not asked, too few rolls or sessions
    double adjusted_p = 1;              ///< for all questions asked of the history
    bool claimed = false;               ///< told from chance
    std::vector<TrendPoint> points;
};

enum class BathState {
    too_few,   ///< no verdict yet
    steady,    ///< no change that can be told
    changing,  ///< a change that can be told, but slight
    tiring,    ///< a change that shows
};

struct BathTrend {
    std::string bath;
    std::optional<Date> mixed_on;
    std::optional<int> good_for_rolls;
    int rolls = 0, sessions = 0;    ///< in the history
    std::optional<int> rolls_done;  ///< by the last session, its own rolls included
    std::optional<int> days;        ///< from mixing to the last session
    BathState state = BathState::too_few;
    std::string text;  ///< in words, numbers included
    std::vector<TrendLine> lines;
};

enum class Habit { wash, tank };
enum class Mark { residue, streaks };

/// Two wash recipes, or two tanks. Residue: `ratio` is how many times as much `b` leaves as `a`. Streaks: `difference` of shares.
struct Comparison {
    Habit habit = Habit::wash;
    Mark mark = Mark::residue;
    std::string a, b;
    int rolls_a = 0, rolls_b = 0, groups_a = 0, groups_b = 0;  ///< groups: sessions, or a tank's runs
    std::optional<double> size;                                ///< ratio or difference
    std::optional<Bounds> interval;
    std::optional<double> p_value;
    double adjusted_p = 1;
    bool claimed = false;
    std::string text;
};

/// One habit's own figures, whatever it is compared with.
struct HabitSummary {
    Habit habit = Habit::wash;
    std::string name;
    int rolls = 0, groups = 0;
    double residue_percent = 0;  ///< middle roll
    std::optional<Bounds> residue_interval;
    int streaked = 0;          ///< rolls with a streaked strip
    std::vector<int> members;  ///< indices of rolls
    std::vector<double> area;  ///< residue of each, percent
};

/// Does the place in the tank matter? Slope of log10 residue per place upwards.
struct ReelTrend {
    std::string tank;
    int rolls = 0, runs = 0;
    std::optional<double> slope;
    std::optional<Bounds> interval;
    std::optional<double> p_value;
    double adjusted_p = 1;
    bool claimed = false;
    std::string text;
    std::vector<TrendPoint> points;
};

struct RatingCount {
    double rating = 0;
    int rolls = 0, paid_off = 0, more_than_needed = 0, not_enough = 0;  ///< paid_off counts at_box_speed too
    friend bool operator==(const RatingCount&, const RatingCount&) = default;
};

/// One stock within five years of age: which exposure index its rolls would have needed.
struct StockAge {
    std::string stock;
    std::optional<double> box_speed;
    std::optional<int> years;  ///< past its date: from this many to under five more; absent: not told
    int rolls = 0;
    std::optional<double> speed;  ///< middle of the rolls' measured speeds, as an exposure index
    std::optional<Bounds> speed_interval;
    int speed_rolls = 0;
    std::optional<double> index;  ///< middle of the ratings at which their shadows would just have been kept
    std::optional<Bounds> interval;
    std::vector<RatingCount> ratings;
    std::string text;
    std::vector<TrendPoint> points;  ///< x: years past, or 0; y: index needed
};

/// Does a stock's speed fall with age? Stops per year.
struct AgeTrend {
    std::string stock;
    int rolls = 0, sessions = 0;
    std::optional<double> slope;
    std::optional<Bounds> interval;
    std::optional<double> p_value;
    double adjusted_p = 1;
    bool claimed = false;
    std::string text;
};

struct HistoryTrends {
    std::vector<HistoryRoll> rolls;  ///< oldest first; parts of one roll joined
    std::vector<BathTrend> baths;
    std::vector<HabitSummary> washes, tanks;
    std::vector<Comparison> comparisons;
    std::vector<ReelTrend> reels;
    std::vector<StockAge> stocks;
    std::vector<AgeTrend> ages;
    int questions = 0, claims = 0;
    double level = 0.95;         ///< of each interval
    double family_error = 0.03;  ///< of any false claim among all questions
    int min_rolls = 8;
};

/// How a stock's dyes and layers mix, by charts on earlier rolls: rows of three.
struct EarlierColour {
    std::array<double, 9> neutral_share{}, scene_from_layer{};
    int rolls = 0;
};

/// What earlier rolls of a stock in a process say about its curve, for a roll that cannot say it alone.
struct EarlierSlopes {
    int rolls = 0;
    Rgb<double> slope{};      ///< density per log10 H
    Rgb<double> slope_std{};  ///< of one further roll: spread between rolls and doubt about the mean together
};

}  // namespace basefog
