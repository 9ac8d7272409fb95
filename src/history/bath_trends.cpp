// SPDX-License-Identifier: GPL-3.0-or-later
// Each litre against rolls done and days since mixing.
#include "basefog/history/find_trends.h"

#include "history/constants.h"
#include "history/litre_lines.h"
#include "history/trends.h"

#include <algorithm>
#include <map>

namespace basefog::history_room {
namespace {

/// Numbers for names, in order of first use.
class Numbering {
public:
    int operator()(const std::string& name) { return numbers_.emplace(name, static_cast<int>(numbers_.size())).first->second; }
    [[nodiscard]] int size() const { return static_cast<int>(numbers_.size()); }

private:
    std::map<std::string, int> numbers_;
};

/// What lifts a roll's value whatever the bath does: its stock and process, or for residue its wash and tank. Rolls are compared only
/// with rolls that are alike in it.
std::string stratum_of(const HistoryRoll& roll, Measure measure) {
    const char separator = '\x1f';
    return measure == Measure::residue ? wash_recipe(roll) + separator + roll.tank : roll.stock + separator + roll.process;
}

/// A roll without a session stands alone.
std::string session_of(const HistoryRoll& roll, std::size_t index) {
    if (roll.session.empty() && !roll.session_date) return "\x1f" + std::to_string(index);
    return roll.session + '\x1f' + (roll.session_date ? to_string(*roll.session_date) : std::string());
}

std::vector<BathTrend> list_baths(const std::vector<HistoryRoll>& rolls, std::vector<int>& bath_of_roll) {
    std::vector<BathTrend> baths;
    Numbering number;
    std::map<std::pair<int, std::string>, int> in_session;
    for (std::size_t i = 0; i < rolls.size(); ++i) {
        const HistoryRoll& roll = rolls[i];
        bath_of_roll.push_back(-1);
        if (roll.bath.empty()) continue;
        const int b = number(bath_name(roll));
        bath_of_roll.back() = b;
        if (b == static_cast<int>(baths.size())) {
            baths.emplace_back();
            baths.back().bath = roll.bath;
            baths.back().mixed_on = roll.bath_mixed_on;
        }
        BathTrend& bath = baths[static_cast<std::size_t>(b)];
        ++bath.rolls;
        if (roll.bath_good_for_rolls) bath.good_for_rolls = roll.bath_good_for_rolls;  // as last told
        const int so_far = ++in_session[{b, session_of(roll, i)}];
        if (so_far == 1) ++bath.sessions;
        if (roll.rolls_done_before) bath.rolls_done = std::max(bath.rolls_done.value_or(0), *roll.rolls_done_before + so_far);
        if (roll.bath_age_days) bath.days = std::max(bath.days.value_or(*roll.bath_age_days), *roll.bath_age_days);
    }
    return baths;
}

std::optional<double> wear_of(const HistoryRoll& roll, Wear wear) {
    const std::optional<int>& told = wear == Wear::rolls_done ? roll.rolls_done_before : roll.bath_age_days;
    return told ? std::optional(static_cast<double>(*told)) : std::nullopt;
}

TrendLine as_trend(const LitreLine& line, Measure measure, Wear wear, const TrendOptions& options) {
    TrendLine trend;
    trend.measure = measure;
    trend.wear = wear;
    trend.rolls = line.n;
    trend.sessions = line.sessions;
    trend.slope = line.slope;
    if (line.interval) trend.interval = Bounds{line.interval->low, line.interval->high};
    trend.x_middle = line.x_middle;
    trend.y_middle = line.y_middle;
    if (line.n >= options.min_rolls && line.sessions >= options.min_sessions && line.interval && line.df >= kLeastFreedom) trend.p_value = line.p_value;
    return trend;
}

/// Numbers of each roll's session, and of its stratum for film and for residue.
struct Labels {
    std::vector<int> bath, session, film, residue;
};

Labels label(const std::vector<HistoryRoll>& rolls, std::vector<int> baths) {
    Labels labels{std::move(baths), {}, {}, {}};
    Numbering session, film, residue;
    for (std::size_t i = 0; i < rolls.size(); ++i) {
        labels.session.push_back(session(session_of(rolls[i], i)));
        labels.film.push_back(film(stratum_of(rolls[i], Measure::base_red)));
        labels.residue.push_back(residue(stratum_of(rolls[i], Measure::residue)));
    }
    return labels;
}

void follow(HistoryTrends& trends, const Labels& labels, Measure measure, Wear wear, const TrendOptions& options) {
    std::vector<RollPoint> points;
    std::vector<int> roll_of_point;
    for (std::size_t i = 0; i < trends.rolls.size(); ++i) {
        const HistoryRoll& roll = trends.rolls[i];
        const auto x = wear_of(roll, wear);
        const auto y = measured(roll, measure);
        if (labels.bath[i] < 0 || !x || !y) continue;
        points.push_back({labels.bath[i], labels.session[i], measure == Measure::residue ? labels.residue[i] : labels.film[i], *x, *y});
        roll_of_point.push_back(static_cast<int>(i));
    }
    const LitreLines fit = fit_litre_lines(points, static_cast<int>(trends.baths.size()), options.level);
    std::vector<TrendLine> lines;
    for (const LitreLine& line : fit.lines) lines.push_back(as_trend(line, measure, wear, options));
    for (std::size_t i = 0; i < points.size(); ++i)
        lines[static_cast<std::size_t>(points[i].bath)].points.push_back({roll_of_point[i], points[i].x, fit.levelled[i], fit.set_aside[i]});
    for (std::size_t b = 0; b < lines.size(); ++b)
        if (!lines[b].points.empty()) trends.baths[b].lines.push_back(std::move(lines[b]));
}

/// In one litre rolls and days only ever grow together, so a change along one is a change along the other: it is asked about once, along
/// rolls done where these are known.
void ask_once(BathTrend& bath) {
    for (TrendLine& days : bath.lines) {
        if (days.wear != Wear::days) continue;
        for (const TrendLine& rolls : bath.lines)
            if (rolls.wear == Wear::rolls_done && rolls.measure == days.measure && rolls.p_value) days.p_value.reset();
    }
}

}  // namespace

void find_bath_trends(HistoryTrends& trends, const TrendOptions& options) {
    std::vector<int> bath_of_roll;
    trends.baths = list_baths(trends.rolls, bath_of_roll);
    if (trends.baths.empty()) return;
    const Labels labels = label(trends.rolls, std::move(bath_of_roll));
    for (int measure = 0; measure < kMeasures; ++measure)
        for (const Wear wear : {Wear::rolls_done, Wear::days}) follow(trends, labels, static_cast<Measure>(measure), wear, options);
    for (BathTrend& bath : trends.baths) ask_once(bath);
}

}  // namespace basefog::history_room
