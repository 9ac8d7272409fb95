// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/history/find_trends.h"

#include "history/columns.h"
#include "history/constants.h"
#include "history/statistics.h"
#include "history/trends.h"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <locale>
#include <map>
#include <sstream>
#include <tuple>

namespace basefog {

using namespace history_room;

Result<void> TrendOptions::validate() const {
    if (min_rolls < 2 || min_sessions < 2) return fail(ErrorCode::usage, "a trend needs at least two rolls and sessions");
    if (!(level > 0 && level < 1) || !(family_error > 0 && family_error < 1)) return fail(ErrorCode::usage, "a probability must lie between 0 and 1");
    return {};
}

std::string wash_recipe(const HistoryRoll& roll) {
    std::string text = roll.wash_agent;
    const auto add = [&](const std::string& part, const char* between) { text += (text.empty() ? "" : between) + part; };
    if (roll.wash_grams_per_litre) add(fmt::format("{} g/l", *roll.wash_grams_per_litre), " ");
    if (roll.wash_celsius) add(fmt::format("{} °C", *roll.wash_celsius), ", ");
    if (roll.wash_soak_minutes) add(fmt::format("{} min", *roll.wash_soak_minutes), ", ");
    if (roll.wash_rinses) add(fmt::format("{} rinse{}", *roll.wash_rinses, *roll.wash_rinses == 1 ? "" : "s"), ", ");
    return text;
}

std::string bath_name(const HistoryRoll& roll) {
    return roll.bath.empty() || !roll.bath_mixed_on ? roll.bath : roll.bath + ", mixed " + to_string(*roll.bath_mixed_on);
}

std::optional<double> measured(const HistoryRoll& roll, Measure measure) {
    const auto ratio = [&](const std::optional<double>& layer) -> std::optional<double> {
        if (!layer || !roll.slope_green || roll.black_and_white || !(*roll.slope_green > 0)) return std::nullopt;
        return *layer / *roll.slope_green;
    };
    switch (measure) {
        case Measure::base_red:
            return roll.base_red;
        case Measure::base_green:
            return roll.base_green;
        case Measure::base_blue:
            return roll.base_blue;
        case Measure::slope:
            return roll.slope_green;
        case Measure::crossover_red:
            return ratio(roll.slope_red);
        case Measure::crossover_blue:
            return ratio(roll.slope_blue);
        case Measure::residue:
            return roll.residue_area_percent ? std::optional(log_residue(*roll.residue_area_percent)) : std::nullopt;
    }
    return std::nullopt;
}

std::string name_of(Measure measure) {
    constexpr const char* kNames[kMeasures] = {"red base + fog",   "green base + fog",  "blue base + fog", "slope of the curve",
                                               "crossover of red", "crossover of blue", "backing left"};
    return kNames[static_cast<int>(measure)];
}

namespace history_room {

double log_residue(double area_percent) { return std::log10(area_percent + kResidueFloor); }

namespace {

std::optional<double> mean(const std::optional<double>& a, double weight_a, const std::optional<double>& b, double weight_b) {
    if (!a || !b) return a ? a : b;
    return (*a * weight_a + *b * weight_b) / (weight_a + weight_b);
}

/// `b` is another part of roll `a`: measurements by their strips, facts from whichever run is newer.
HistoryRoll join(const HistoryRoll& a, const HistoryRoll& b) {
    HistoryRoll all = a.finished >= b.finished ? a : b;
    const double wa = std::max(1, a.strips.value_or(1)), wb = std::max(1, b.strips.value_or(1));
    for (const auto member : {&HistoryRoll::base_red, &HistoryRoll::base_green, &HistoryRoll::base_blue, &HistoryRoll::slope_red, &HistoryRoll::slope_green,
                              &HistoryRoll::slope_blue, &HistoryRoll::residue_area_percent, &HistoryRoll::streaked_share, &HistoryRoll::shadow_lost_percent})
        all.*member = mean(a.*member, wa, b.*member, wb);
    all.strips = a.strips.value_or(0) + b.strips.value_or(0);
    all.pictures = a.pictures.value_or(0) + b.pictures.value_or(0);
    all.sheets.insert(all.sheets.end(), a.finished >= b.finished ? b.sheets.begin() : a.sheets.begin(),
                      a.finished >= b.finished ? b.sheets.end() : a.sheets.end());
    return all;
}

}  // namespace

std::vector<HistoryRoll> in_order(std::vector<HistoryRoll> rolls) {
    const auto place = [](const HistoryRoll& r) {
        return std::tuple(r.session_date ? to_string(*r.session_date) : std::string("9999"), r.session, r.roll, r.finished, joined(r.sheets));
    };
    std::vector<std::pair<decltype(place(rolls.front())), std::size_t>> order;
    for (std::size_t i = 0; i < rolls.size(); ++i) order.emplace_back(place(rolls[i]), i);
    std::sort(order.begin(), order.end());
    std::vector<HistoryRoll> sorted;
    for (const auto& [key, i] : order) {
        if (!sorted.empty() && parts_of_one_roll(sorted.back(), rolls[i]))
            sorted.back() = join(sorted.back(), rolls[i]);
        else
            sorted.push_back(std::move(rolls[i]));
    }
    return sorted;
}

void complete_wear(std::vector<HistoryRoll>& rolls) {
    std::map<std::string, std::map<std::string, int>> dates;  // bath -> date -> rolls
    for (const HistoryRoll& roll : rolls)
        if (!roll.bath.empty() && roll.session_date) ++dates[bath_name(roll)][to_string(*roll.session_date)];
    for (HistoryRoll& roll : rolls) {
        if (roll.bath.empty() || !roll.session_date) continue;
        if (!roll.rolls_done_before) {
            int before = 0;
            for (const auto& [date, count] : dates[bath_name(roll)]) before += date < to_string(*roll.session_date) ? count : 0;
            roll.rolls_done_before = before;
        }
        if (!roll.bath_age_days && roll.bath_mixed_on)
            roll.bath_age_days = static_cast<int>((std::chrono::sys_days(*roll.session_date) - std::chrono::sys_days(*roll.bath_mixed_on)).count());
    }
}

namespace {

std::vector<Question> questions_of(HistoryTrends& trends) {
    std::vector<Question> all;
    const auto ask = [&](auto& answer) {
        if (answer.p_value) all.push_back({*answer.p_value, &answer.adjusted_p, &answer.claimed});
    };
    for (BathTrend& bath : trends.baths)
        for (TrendLine& line : bath.lines) ask(line);
    for (Comparison& comparison : trends.comparisons) ask(comparison);
    for (ReelTrend& reel : trends.reels) ask(reel);
    for (AgeTrend& age : trends.ages) ask(age);
    return all;
}

void answer(HistoryTrends& trends, const TrendOptions& options) {
    const std::vector<Question> questions = questions_of(trends);
    std::vector<double> p_values;
    for (const Question& question : questions) p_values.push_back(question.p_value);
    const std::vector<double> adjusted = holm_adjusted(p_values);
    for (std::size_t i = 0; i < questions.size(); ++i) {
        *questions[i].adjusted = adjusted[i];
        *questions[i].claimed = adjusted[i] < options.family_error;
        trends.claims += *questions[i].claimed ? 1 : 0;
    }
    trends.questions = static_cast<int>(questions.size());
}

}  // namespace
}  // namespace history_room

Result<HistoryTrends> find_trends(std::vector<HistoryRoll> rolls, const TrendOptions& options) {
    if (auto valid = options.validate(); !valid) return Failure(std::move(valid.error()));
    HistoryTrends trends;
    trends.level = options.level;
    trends.family_error = options.family_error;
    trends.min_rolls = options.min_rolls;
    trends.rolls = in_order(std::move(rolls));
    complete_wear(trends.rolls);
    find_bath_trends(trends, options);
    find_habits(trends, options);
    find_reel_trends(trends, options);
    find_stocks(trends, options);
    answer(trends, options);
    word_baths(trends, options);
    word_habits(trends, options);
    word_reels(trends, options);
    word_stocks(trends, options);
    return trends;
}

std::optional<EarlierColour> earlier_colour(const std::vector<HistoryRoll>& rolls, const std::string& stock, const std::string& process) {
    EarlierColour sum;
    for (const HistoryRoll& roll : rolls) {
        if (stock.empty() || roll.stock != stock || roll.process != process || roll.chart_colour.empty()) continue;
        std::istringstream text(roll.chart_colour);
        text.imbue(std::locale::classic());
        std::array<double, 18> v{};
        for (double& value : v) text >> value;
        if (!text) continue;
        for (std::size_t i = 0; i < 9; ++i) sum.neutral_share[i] += v[i], sum.scene_from_layer[i] += v[9 + i];
        ++sum.rolls;
    }
    if (sum.rolls == 0) return std::nullopt;
    for (auto* part : {&sum.neutral_share, &sum.scene_from_layer})
        for (double& value : *part) value /= sum.rolls;
    return sum;
}

std::optional<EarlierSlopes> earlier_curve(const std::vector<HistoryRoll>& rolls, const std::string& stock, const std::string& process) {
    std::vector<double> slopes[3];
    for (const HistoryRoll& roll : rolls) {
        if (stock.empty() || roll.stock != stock || roll.process != process) continue;
        if (!roll.slope_red || !roll.slope_green || !roll.slope_blue) continue;
        slopes[0].push_back(*roll.slope_red);
        slopes[1].push_back(*roll.slope_green);
        slopes[2].push_back(*roll.slope_blue);
    }
    const auto n = slopes[0].size();
    if (n < kCurveRolls) return std::nullopt;
    EarlierSlopes curve;
    curve.rolls = static_cast<int>(n);
    for (int i = 0; i < 3; ++i) {
        curve.slope[i] = median(slopes[i]);
        // Spread between rolls, never below the plain standard deviation of few; a median of n normal values is about sqrt(pi / 2 n) as sure.
        double squares = 0;
        for (const double s : slopes[i]) squares += (s - curve.slope[i]) * (s - curve.slope[i]);
        const double plain = std::sqrt(squares / static_cast<double>(n - 1)), robust = robust_std(slopes[i]);
        constexpr std::size_t kEnoughForRobust = 10;  // Chosen: below, the median distance of a few rolls may be 0 by chance
        const double spread = n < kEnoughForRobust ? plain : robust;
        constexpr double kHalfPi = 1.5707963267948966;
        curve.slope_std[i] = spread * std::sqrt(1 + kHalfPi / static_cast<double>(n));
    }
    return curve;
}

}  // namespace basefog
