// SPDX-License-Identifier: GPL-3.0-or-later
// The answers in words: what was found, how surely, on how many rolls, and how many more are needed where nothing can be said.
#include "basefog/history/find_trends.h"

#include "history/constants.h"
#include "history/rank_tests.h"
#include "history/trends.h"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

namespace basefog::history_room {
namespace {

std::string counted(int n, const std::string& one, const std::string& many) { return fmt::format("{} {}", n, n == 1 ? one : many); }
std::string counted(int n, const std::string& one) { return counted(n, one, one + "s"); }

/// "3 more rolls and 1 more session", or empty when there is enough of both.
std::string what_is_short(int rolls, int groups, const TrendOptions& options, const std::string& group) {
    const int more_rolls = std::max(0, options.min_rolls - rolls), more_groups = std::max(0, options.min_sessions - groups);
    std::string text = more_rolls > 0 ? fmt::format("{} more roll{}", more_rolls, more_rolls == 1 ? "" : "s") : "";
    if (more_groups > 0) text += fmt::format("{}{} more {}{}", text.empty() ? "" : " and ", more_groups, group, more_groups == 1 ? "" : "s");
    return text;
}

/// How the line changes from the least to the most worn roll.
struct Change {
    double value = 0, low = 0, high = 0;
    double span = 0, middle = 0;
};

Change change_over(const TrendLine& line) {
    Change change;
    double first = line.points.front().x, last = first;
    for (const TrendPoint& p : line.points) {
        first = std::min(first, p.x);
        last = std::max(last, p.x);
    }
    change.span = last - first;
    change.value = *line.slope * change.span;
    change.low = line.interval->low * change.span;
    change.high = line.interval->high * change.span;
    change.middle = line.y_middle;
    return change;
}

/// "+0.12"; never "-0.00".
std::string signed_text(double value, int digits) {
    const double unit = std::pow(10, -digits);
    return fmt::format("{:+.{}f}", std::abs(value) < unit / 2 ? 0.0 : value, digits);
}

bool is_base(Measure m) { return m == Measure::base_red || m == Measure::base_green || m == Measure::base_blue; }

bool shows(Measure measure, const Change& change) {
    if (is_base(measure)) return std::abs(change.value) >= kSlightDensity;
    if (measure == Measure::residue) return std::abs(change.value) >= kSlightResidue;
    return std::abs(change.value) >= kSlightShare * std::abs(change.middle);
}

/// "+0.12 (+0.10 to +0.15)", "-8 % (-11 to -5 %)", "3.1 times (2.0 to 4.9)".
std::string size_of(Measure measure, const Change& c) {
    if (is_base(measure)) return fmt::format("{} ({} to {})", signed_text(c.value, 2), signed_text(c.low, 2), signed_text(c.high, 2));
    if (measure == Measure::residue) return fmt::format("{:.1f} times ({:.1f} to {:.1f})", std::pow(10, c.value), std::pow(10, c.low), std::pow(10, c.high));
    const double percent = 100 / c.middle;
    return fmt::format("{} % ({} to {} %)", signed_text(c.value * percent, 0), signed_text(c.low * percent, 0), signed_text(c.high * percent, 0));
}

std::string over_what(const TrendLine& line, const Change& change) {
    return line.wear == Wear::rolls_done ? fmt::format("over {:.0f} rolls", change.span) : fmt::format("over {:.0f} days", change.span);
}

/// For each measure the axis on which it is told; rolls done where both tell.
std::vector<const TrendLine*> claimed_lines(const BathTrend& bath) {
    std::vector<const TrendLine*> lines;
    for (int measure = 0; measure < kMeasures; ++measure) {
        const TrendLine* best = nullptr;
        for (const TrendLine& line : bath.lines)
            if (line.measure == static_cast<Measure>(measure) && line.claimed && (best == nullptr || best->wear != Wear::rolls_done)) best = &line;
        if (best != nullptr) lines.push_back(best);
    }
    return lines;
}

std::string capitalised(std::string text) {
    if (!text.empty() && text.front() >= 'a' && text.front() <= 'z') text.front() = static_cast<char>(text.front() - 'a' + 'A');
    return text;
}

std::string capacity_words(const BathTrend& bath) {
    if (!bath.rolls_done) return {};
    const int done = *bath.rolls_done;
    if (!bath.good_for_rolls) return fmt::format(" It has done {}; for how many it is good is not told.", counted(done, "roll"));
    const int good = *bath.good_for_rolls;
    if (done > good) return fmt::format(" It has done {}, {} past the {} its maker allows.", counted(done, "roll"), done - good, good);
    return fmt::format(" It has done {} of the {} rolls its maker allows.", done, good);
}

/// The surest statement where nothing was found: by how much blue base, the first to go, may have changed unseen.
std::string bound_words(const BathTrend& bath) {
    for (const Measure measure : {Measure::base_blue, Measure::slope})
        for (const TrendLine& line : bath.lines)
            if (line.measure == measure && line.wear == Wear::rolls_done && line.p_value) {
                const Change c = change_over(line);
                if (is_base(measure))
                    return fmt::format(" Its {} changed by between {} and {} {}.", name_of(measure), signed_text(c.low, 2), signed_text(c.high, 2),
                                       over_what(line, c));
                return fmt::format(" Its {} changed by between {} and {} % {}.", name_of(measure), signed_text(100 * c.low / c.middle, 0),
                                   signed_text(100 * c.high / c.middle, 0), over_what(line, c));
            }
    return {};
}

void word_bath(BathTrend& bath, const TrendOptions& options) {
    const bool asked = std::any_of(bath.lines.begin(), bath.lines.end(), [](const TrendLine& line) { return line.p_value.has_value(); });
    if (!asked) {
        bath.state = BathState::too_few;
        const std::string lacking = what_is_short(bath.rolls, bath.sessions, options, "session");
        bath.text = fmt::format("Too early to say, from {} in {}", counted(bath.rolls, "roll"), counted(bath.sessions, "session"));
        bath.text += lacking.empty()
                         ? ": too few of its rolls could be measured, or all sessions together are too few to know how much they scatter."
                         : fmt::format(": {} {} needed.", lacking, lacking.starts_with("1 ") && lacking.find("and") == std::string::npos ? "is" : "are");
        bath.text += capacity_words(bath);
        return;
    }
    const std::vector<const TrendLine*> lines = claimed_lines(bath);
    std::string list, span;
    bath.state = lines.empty() ? BathState::steady : BathState::changing;
    for (const TrendLine* line : lines) {
        const Change change = change_over(*line);
        if (shows(line->measure, change) && line->measure != Measure::residue) bath.state = BathState::tiring;
        // The span is said once for all that share it.
        const std::string over = over_what(*line, change);
        list += fmt::format("{}{}{} {}", list.empty() ? "" : "; ", over == span ? "" : over + ": ", name_of(line->measure), size_of(line->measure, change));
        span = over;
    }
    const std::string counts = fmt::format("{} in {}", counted(bath.rolls, "roll"), counted(bath.sessions, "session"));
    if (bath.state == BathState::tiring)
        bath.text = fmt::format("It is tiring ({}). {}.", counts, capitalised(list));
    else if (bath.state == BathState::changing)
        bath.text = fmt::format("A change can be told, but it is slight or lies in the backing ({}). {}.", counts, capitalised(list));
    else
        bath.text = fmt::format("No change that can be told from chance ({}).", counts) + bound_words(bath);
    bath.text += capacity_words(bath);
    const bool past = bath.rolls_done && bath.good_for_rolls && *bath.rolls_done > *bath.good_for_rolls;
    if (bath.state == BathState::tiring && !past && bath.good_for_rolls) bath.text += " It tires before its stated capacity.";
    if (bath.state == BathState::steady && past) bath.text += " That nothing shows does not prove it fresh.";
}

std::string residue_words(const Comparison& c) {
    const bool more = *c.size >= 1;
    const std::string &worse = more ? c.b : c.a, &better = more ? c.a : c.b;
    const double ratio = more ? *c.size : 1 / *c.size;
    std::string text = fmt::format("\"{}\" leaves {:.1f} times", worse, ratio);
    if (c.interval)
        text += more ? fmt::format(" ({:.1f} to {:.1f})", c.interval->low, c.interval->high)
                     : fmt::format(" ({:.1f} to {:.1f})", 1 / c.interval->high, 1 / c.interval->low);
    return text + fmt::format(" as much backing as \"{}\"", better);
}

std::string streak_words(const Comparison& c) {
    const bool more = *c.size >= 0;
    std::string text = fmt::format("\"{}\" streaks {:.0f} in 100 strips more", more ? c.b : c.a, 100 * std::abs(*c.size));
    if (c.interval)
        text += fmt::format(" ({:.0f} to {:.0f})", 100 * (more ? c.interval->low : -c.interval->high), 100 * (more ? c.interval->high : -c.interval->low));
    return text + fmt::format(" than \"{}\"", more ? c.a : c.b);
}

void word_comparison(Comparison& c, const HistoryTrends& trends, const TrendOptions& options) {
    const std::string group = c.habit == Habit::wash ? "session" : "run";
    const std::string counts = fmt::format("{} and {} rolls in {} and {} {}s", c.rolls_a, c.rolls_b, c.groups_a, c.groups_b, group);
    if (!c.p_value) {
        const std::string lacking = what_is_short(std::min(c.rolls_a, c.rolls_b), std::min(c.groups_a, c.groups_b), options, group);
        c.text = fmt::format("\"{}\" against \"{}\": too early to say ({}); the one with fewer needs {}.", c.a, c.b, counts, lacking);
        return;
    }
    if (c.claimed) {
        c.text = fmt::format("{}, {}.", c.mark == Mark::residue ? residue_words(c) : streak_words(c), counts);
        return;
    }
    c.text = fmt::format("\"{}\" against \"{}\": no difference in {} that can be told from chance ({}).", c.a, c.b,
                         c.mark == Mark::residue ? "backing left" : "streaks", counts);
    const int needed = groups_needed(options.family_error / std::max(1, trends.questions));
    if (std::min(c.groups_a, c.groups_b) < needed)
        c.text += fmt::format(" Among {} questions even a plain one needs about {} {}s of each.", trends.questions, needed, group);
}

}  // namespace

void word_baths(HistoryTrends& trends, const TrendOptions& options) {
    for (BathTrend& bath : trends.baths) word_bath(bath, options);
}

void word_habits(HistoryTrends& trends, const TrendOptions& options) {
    for (Comparison& comparison : trends.comparisons) word_comparison(comparison, trends, options);
}

void word_reels(HistoryTrends& trends, const TrendOptions& options) {
    for (ReelTrend& reel : trends.reels) {
        const std::string counts = fmt::format("{} in {}", counted(reel.rolls, "roll"), counted(reel.runs, "run"));
        if (!reel.p_value)
            reel.text =
                fmt::format("Places in \"{}\": too early to say ({}); it needs {}.", reel.tank, counts, what_is_short(reel.rolls, reel.runs, options, "run"));
        else if (reel.claimed)
            reel.text = fmt::format(
                "In \"{}\" each place higher has {:.1f} times{} the backing left ({}).", reel.tank, std::pow(10, *reel.slope),
                reel.interval ? fmt::format(" ({:.1f} to {:.1f})", std::pow(10, reel.interval->low), std::pow(10, reel.interval->high)) : "", counts);
        else
            reel.text = fmt::format("Places in \"{}\": no difference that can be told from chance ({}).", reel.tank, counts);
    }
}

void word_stocks(HistoryTrends& trends, const TrendOptions& options) {
    const auto with_bounds = [](double value, const std::optional<Bounds>& bounds) {
        return bounds ? fmt::format("EI {:.0f} ({:.0f} to {:.0f})", value, bounds->low, bounds->high) : fmt::format("EI {:.0f}", value);
    };
    for (StockAge& age : trends.stocks) {
        const int judged = static_cast<int>(age.points.size());
        if (age.speed && age.speed_rolls >= options.min_rolls)
            age.text = fmt::format("Speed as measured: {}, {}. ", with_bounds(*age.speed, age.speed_interval), counted(age.speed_rolls, "roll"));
        if (judged < options.min_rolls)
            age.text += fmt::format("Which rating pays off: too early to say, from {} that could be judged; {} more {} needed.", counted(judged, "roll"),
                                    options.min_rolls - judged, options.min_rolls - judged == 1 ? "is" : "are");
        else
            age.text += fmt::format("The rating that pays off: about {}, {}.", with_bounds(*age.index, age.interval), counted(judged, "roll"));
    }
    for (AgeTrend& age : trends.ages) {
        const std::string counts = fmt::format("{} in {}", counted(age.rolls, "roll"), counted(age.sessions, "session"));
        if (!age.p_value)
            age.text = fmt::format("Whether it loses speed with age: too early to say ({}).", counts);
        else if (age.claimed)
            age.text = fmt::format("It loses {:.2f} stop a year{} ({}).", -*age.slope,
                                   age.interval ? fmt::format(" ({:.2f} to {:.2f})", -age.interval->high, -age.interval->low) : "", counts);
        else
            age.text = fmt::format("No loss of speed with age that can be told from chance ({}).", counts);
    }
}

}  // namespace basefog::history_room
