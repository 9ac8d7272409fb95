// SPDX-License-Identifier: GPL-3.0-or-later
// The page of trends as a whole. Sentences come with the trends; here they are only set.
#include "basefog/report/write_history.h"

#include "basefog/core/version.h"
#include "report/history_page.h"
#include "report/page.h"
#include "report/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <filesystem>
#include <set>

namespace basefog {
namespace report {

std::string report_link(const HistoryPage& page, const HistoryRoll& roll) {
    if (roll.report.empty() || page.folder.empty()) return {};
    const std::filesystem::path relative = std::filesystem::path(roll.report).lexically_relative(page.folder);
    if (relative.empty()) return {};
    return link_to(relative.generic_string()) + (roll.report_place ? fmt::format("#roll-{}", *roll.report_place) : std::string());
}

namespace {

std::string bath_title(const BathTrend& bath) { return bath.bath.empty() ? "A bath without a name" : name(bath.bath); }

const char* css_of(BathState state) {
    switch (state) {
        case BathState::tiring:
            return "tiring";
        case BathState::steady:
            return "steady";
        case BathState::changing:
            return "changing";
        default:
            return "too_few";
    }
}

const char* headline_of(BathState state) {
    switch (state) {
        case BathState::tiring:
            return "Tiring";
        case BathState::steady:
            return "No change told";
        case BathState::changing:
            return "A slight change";
        default:
            return "Too early to say";
    }
}

/// What wants attention first, then the newest.
std::vector<std::size_t> bath_order(const HistoryTrends& trends) {
    std::vector<std::size_t> order(trends.baths.size());
    for (std::size_t i = 0; i < order.size(); ++i) order[i] = order.size() - 1 - i;
    const auto weight = [&](std::size_t i) {
        return static_cast<int>(trends.baths[i].state) >= static_cast<int>(BathState::changing) ? static_cast<int>(trends.baths[i].state) : 0;
    };
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return weight(a) > weight(b); });
    return order;
}

std::string anchor_of(std::size_t bath) { return fmt::format("bath-{}", bath + 1); }

std::string bath_facts(const BathTrend& bath) {
    std::string done = bath.rolls_done ? fmt::format("{}", *bath.rolls_done) : std::string("not known");
    if (bath.good_for_rolls) done += fmt::format(" of {}", *bath.good_for_rolls);
    return "<dl class=\"facts\">\n" + item("Rolls done", done) + item("Mixed", bath.mixed_on ? to_string(*bath.mixed_on) : std::string()) +
           item("Last used", bath.days ? fmt::format("at {} days", *bath.days) : std::string()) + "</dl>\n";
}

std::string bath_card(const HistoryTrends& trends, std::size_t i) {
    const BathTrend& bath = trends.baths[i];
    return fmt::format("<article class=\"verdict {}\">\n<h3>{}</h3>\n<p class=\"outcome\">{}</p>\n<p>{}</p>\n{}</article>\n", css_of(bath.state),
                       link(anchor_of(i), bath_title(bath)), headline_of(bath.state), escape(bath.text), bath_facts(bath));
}

std::string cautions() {
    return "<aside class=\"cautions\" aria-label=\"Cautions\">\n<h3>Before you act on it</h3>\n<ul>\n"
           "<li>Gloves, eye protection and fresh air when you mix, pour or discard a bath; developers can make skin allergic for life. Never mix baths.</li>\n"
           "<li>The safety data sheets go before anything on this page. Spent baths and backing sludge go where your local rules say.</li>\n"
           "<li>The stated capacity is its maker&#39;s. A bath in which no change is told may still be tired: these are trends of few "
           "rolls.</li>\n</ul>\n</aside>\n";
}

std::string baths_section(const HistoryPage& page) {
    const HistoryTrends& trends = page.trends;
    std::string html = "<section id=\"baths\" aria-labelledby=\"h-baths\">\n<h2 id=\"h-baths\">Baths</h2>\n";
    if (trends.baths.empty()) return html + "<p>No roll of the history names its bath.</p>\n</section>\n";
    html += "<div class=\"cards\">\n";
    for (const std::size_t i : bath_order(trends)) html += bath_card(trends, i);
    return html + "</div>\n" + cautions() + "</section>\n";
}

/// Open where there is something to see: a change, or the bath in use.
std::string bath_article(const HistoryPage& page, std::size_t i) {
    const BathTrend& bath = page.trends.baths[i];
    const std::string by_rolls = bath_plots(page, bath, Wear::rolls_done), by_days = bath_plots(page, bath, Wear::days);
    const bool open = bath.state == BathState::tiring || bath.state == BathState::changing || i + 1 == page.trends.baths.size();
    std::string html = fmt::format("<article class=\"bath\" id=\"{}\">\n<details{}><summary><h3>{}</h3> <span class=\"dim\">{}, {}</span></summary>\n",
                                   anchor_of(i), open ? " open=\"open\"" : "", bath_title(bath), headline_of(bath.state), counted(bath.rolls, "roll", "rolls"));
    html += "<div class=\"trends\">\n" + (by_rolls.empty() ? by_days : by_rolls) + "</div>\n";
    if (!by_rolls.empty() && !by_days.empty())
        html += "<details class=\"days\"><summary>Against days since mixing</summary>\n<div class=\"trends\">\n" + by_days + "</div>\n</details>\n";
    return html + "</details>\n</article>\n";
}

std::string trends_section(const HistoryPage& page) {
    if (page.trends.baths.empty()) return {};
    std::string html = "<section id=\"trends\" aria-labelledby=\"h-trends\">\n<h2 id=\"h-trends\">Bath by bath</h2>\n";
    html += fmt::format(
        "<p class=\"caption\">Every point is a roll and leads to its report. What a roll&#39;s stock adds is taken off, so that all rolls of a bath stand on "
        "one line. "
        "A whole line is told from chance, a dashed one is not; the fan around it is where its slope lies, {:.0f} times in 100. A hollow point stood far off "
        "the rest of "
        "its session and took no part. The dotted upright is the capacity the maker states.</p>\n",
        100 * page.trends.level);
    for (const std::size_t i : bath_order(page.trends)) html += bath_article(page, i);
    return html + "</section>\n";
}

void add_told(std::string& list, bool claimed, const std::string& text) {
    if (claimed) list += "<li><strong>" + escape(text) + "</strong></li>\n";
}
void add_untold(std::string& list, bool claimed, const std::string& text) {
    if (!claimed) list += "<li class=\"dim\">" + escape(text) + "</li>\n";
}

std::string habits_of(const HistoryPage& page, Habit habit, const char* heading, const std::vector<HabitSummary>& summaries) {
    std::string list;
    for (const auto add : {add_told, add_untold}) {
        for (const Comparison& c : page.trends.comparisons)
            if (c.habit == habit) add(list, c.claimed, c.text);
        if (habit == Habit::tank)
            for (const ReelTrend& reel : page.trends.reels) add(list, reel.claimed, reel.text);
    }
    std::string counts;
    for (const HabitSummary& s : summaries)
        counts += item(
            name(s.name),
            fmt::format("{}, {}, middle {} %{}; streaked: {}", counted(s.rolls, "roll", "rolls"), counted(s.groups, "session", "sessions"),
                        percent(s.residue_percent),
                        s.residue_interval ? fmt::format(" ({} to {})", percent(s.residue_interval->low), percent(s.residue_interval->high)) : std::string(),
                        s.streaked));
    return fmt::format("<article class=\"card habit\">\n<h3>{}</h3>\n{}<dl class=\"facts\">\n{}</dl>\n<ul class=\"told\">\n{}</ul>\n</article>\n", heading,
                       habit_plot(page, summaries), counts, list);
}

std::string habits_section(const HistoryPage& page) {
    const HistoryTrends& trends = page.trends;
    std::string html = "<section id=\"habits\" aria-labelledby=\"h-habits\">\n<h2 id=\"h-habits\">Washes and tanks</h2>\n";
    if (trends.washes.empty() && trends.tanks.empty()) return html + "<p>No roll of the history names its wash or tank.</p>\n</section>\n";
    html += fmt::format(
        "<p class=\"caption\">Backing left on every roll. The upright line is the middle roll, the band where the middle of all such rolls lies, {:.0f} times "
        "in 100.</p>\n<div class=\"pair\">\n",
        100 * trends.level);
    if (!trends.washes.empty()) html += habits_of(page, Habit::wash, "Wash recipes", trends.washes);
    if (!trends.tanks.empty()) html += habits_of(page, Habit::tank, "Tanks", trends.tanks);
    return html + "</div>\n</section>\n";
}

std::string ratings_table(const StockAge& age) {
    if (age.ratings.empty()) return {};
    std::string html =
        "<div class=\"scroll\"><table>\n<thead><tr><th scope=\"col\">Rated, EI</th><th scope=\"col\">Rolls</th><th scope=\"col\">Paid off</th><th "
        "scope=\"col\">More than "
        "needed</th><th scope=\"col\">Not enough</th></tr></thead>\n<tbody>\n";
    for (const RatingCount& r : age.ratings)
        html += fmt::format("<tr><th scope=\"row\">{}</th><td>{}</td><td>{}</td><td>{}</td><td>{}</td></tr>\n", short_number(r.rating), r.rolls, r.paid_off,
                            r.more_than_needed, r.not_enough);
    return html + "</tbody></table></div>\n";
}

std::string stocks_section(const HistoryPage& page) {
    const HistoryTrends& trends = page.trends;
    std::string html = "<section id=\"stocks\" aria-labelledby=\"h-stocks\">\n<h2 id=\"h-stocks\">Stocks and ratings</h2>\n";
    if (trends.stocks.empty()) return html + "<p>No roll of the history names its stock.</p>\n</section>\n";
    html += "<div class=\"pair\">\n";
    if (const std::string plot = stock_plot(page); !plot.empty())
        html +=
            "<article class=\"card\">\n<h3>Ratings that would have done</h3>\n<p class=\"caption\">A point is a roll: its rating, less what could have been "
            "spared. "
            "Dotted: the speed on the box.</p>\n" +
            plot + "</article>\n";
    for (const StockAge& age : trends.stocks) {
        const std::string years = age.years ? fmt::format("{} to {} years past its date", *age.years, *age.years + 5) : std::string("age not told");
        html += fmt::format("<article class=\"card\">\n<p class=\"eyebrow\">{}</p>\n<h3>{}</h3>\n<p>{}</p>\n", years, name(age.stock), escape(age.text));
        for (const AgeTrend& trend : trends.ages)
            if (trend.stock == age.stock) html += "<p class=\"dim\">" + escape(trend.text) + "</p>\n";
        html += ratings_table(age) + "</article>\n";
    }
    return html + "</div>\n</section>\n";
}

std::string cell(std::string_view label, const std::string& content) {
    return fmt::format("<td role=\"cell\" data-label=\"{}\"><span>{}</span></td>", label, content.empty() ? "&#8211;" : content);
}

std::string number_or_none(const std::optional<double>& value, int digits) { return value ? fixed(*value, digits) : std::string(); }

/// What the page's tools sort and filter a roll by.
std::string roll_keys(const HistoryRoll& roll, std::size_t number) {
    std::string keys = key("of", "history") + key("id", fmt::format("history-{}", number + 1)) + key("name", roll.roll) + key("stock", roll.stock) +
                       key("bath", roll.bath) + key("tank", roll.tank) + key("session", roll.session_date ? to_string(*roll.session_date) : roll.session);
    const auto add = [&](std::string_view name_of_key, const std::optional<double>& value) {
        if (value) keys += key(name_of_key, *value);
    };
    add("rated", roll.rating);
    add("base", roll.base_green);
    add("slope", roll.slope_green);
    add("backing", roll.residue_area_percent);
    return keys;
}

Tools roll_tools(const HistoryTrends& trends) {
    Tools tools{"history", "rolls", {{"stock", "Stock", {}}, {"bath", "Bath", {}}, {"tank", "Tank", {}}}, {}};
    std::vector<std::string> stocks, baths, tanks;
    for (const HistoryRoll& roll : trends.rolls) {
        stocks.push_back(roll.stock);
        baths.push_back(roll.bath);
        tanks.push_back(roll.tank);
    }
    tools.filters[0].choices = choices_of(stocks);
    tools.filters[1].choices = choices_of(baths);
    tools.filters[2].choices = choices_of(tanks);
    tools.sorts = {{"", "newest first"}, {"name", "name"}, {"session", "session"},        {"stock", "stock"},        {"rated", "rating"},
                   {"bath", "bath"},     {"tank", "tank"}, {"base", "base + fog, green"}, {"slope", "slope, green"}, {"backing", "backing left"}};
    return tools;
}

std::string roll_row(const HistoryPage& page, const HistoryRoll& roll, std::size_t number) {
    const std::string to_report = report_link(page, roll);
    const std::string title = to_report.empty() ? name(roll.roll) : fmt::format("<a href=\"{}\">{}</a>", to_report, name(roll.roll));
    const std::string base = roll.base_red && roll.base_green && roll.base_blue
                                 ? fmt::format("{} {} {}", fixed(*roll.base_red, 2), fixed(*roll.base_green, 2), fixed(*roll.base_blue, 2))
                                 : std::string();
    return "<tr role=\"row\"" + roll_keys(roll, number) + ">" +
           fmt::format("<th scope=\"row\" role=\"rowheader\" data-label=\"Roll\"><span>{}</span></th>", title) +
           cell("Session", roll.session_date      ? to_string(*roll.session_date)
                           : roll.session.empty() ? std::string()
                                                  : name(roll.session)) +
           cell("Stock", roll.stock.empty() ? std::string() : name(roll.stock)) + cell("Rated", roll.rating ? short_number(*roll.rating) : std::string()) +
           cell("Bath", (roll.bath.empty() ? std::string() : name(roll.bath)) +
                            (roll.rolls_done_before ? fmt::format(", {} before", *roll.rolls_done_before) : std::string())) +
           cell("Tank", roll.tank.empty() ? std::string() : name(roll.tank) + (roll.reel ? fmt::format(", {}", *roll.reel) : std::string())) +
           cell("Base + fog R G B", base) + cell("Slope, green", number_or_none(roll.slope_green, 2)) +
           cell("Backing left", roll.residue_area_percent ? percent(*roll.residue_area_percent) + " %" : std::string()) + "</tr>\n";
}

std::string rolls_section(const HistoryPage& page) {
    std::string html = "<section id=\"rolls\" aria-labelledby=\"h-rolls\">\n<h2 id=\"h-rolls\">Rolls</h2>\n<details><summary>" +
                       counted(static_cast<long long>(page.trends.rolls.size()), "roll", "rolls") + ", newest first</summary>\n" +
                       tools_bar(roll_tools(page.trends)) + "<table class=\"stack\" role=\"table\">\n<thead role=\"rowgroup\"><tr role=\"row\">";
    constexpr std::pair<const char*, const char*> kColumns[] = {
        {"name", "Roll"}, {"session", "Session"},       {"stock", "Stock"},        {"rated", "Rated"},         {"bath", "Bath"},
        {"tank", "Tank"}, {"base", "Base + fog R G B"}, {"slope", "Slope, green"}, {"backing", "Backing left"}};
    for (const auto& [sort, column] : kColumns)
        html += fmt::format("<th scope=\"col\" role=\"columnheader\" data-sort=\"{}\" data-tools-of=\"history\">{}</th>", sort, column);
    html += "</tr></thead>\n<tbody role=\"rowgroup\">\n";
    for (std::size_t i = page.trends.rolls.size(); i-- > 0;) html += roll_row(page, page.trends.rolls[i], i);
    return html + "</tbody>\n</table>\n</details>\n</section>\n";
}

std::string reading_section(const HistoryTrends& trends) {
    return fmt::format(
        "<section id=\"reading\" aria-labelledby=\"h-reading\">\n<h2 id=\"h-reading\">How sure this is</h2>\n<p>{} were asked of this history: does this bath "
        "change, does that wash leave more. "
        "{} answered. The bar is set so high that, were everything here chance, any answer at all would come up in {:.0f} of 100 such histories. Under {} "
        "rolls nothing is "
        "judged. Rolls of one session share its slips, so what counts is how many sessions there are.</p>\n"
        "<p>Base and fog cannot be told apart in one scan; fog shows as their rise. A bath, a wash and a tank that are always used together cannot be told "
        "apart either.</p>\n</section>\n",
        counted(trends.questions, "question", "questions"), counted(trends.claims, "was", "were"), 100 * trends.family_error, trends.min_rolls);
}

std::string history_mast(const HistoryTrends& trends, const std::string& made) {
    std::set<std::string> sessions;
    for (const HistoryRoll& roll : trends.rolls) sessions.insert(roll.session + (roll.session_date ? to_string(*roll.session_date) : std::string()));
    const auto tiring = std::count_if(trends.baths.begin(), trends.baths.end(), [](const BathTrend& b) { return b.state == BathState::tiring; });
    return fmt::format(
        "<header class=\"mast\">\n<p class=\"eyebrow\">basefog {}{}</p>\n<h1>Film history</h1>\n<p class=\"lead\">{} in {}, {}.{}</p>\n"
        "<nav aria-label=\"Contents\"><a href=\"#baths\">Baths</a> {}<a href=\"#habits\">Washes and tanks</a> <a "
        "href=\"#stocks\">Stocks</a> "
        "<a href=\"#rolls\">Rolls</a> <a href=\"#reading\">How sure</a></nav>\n</header>\n",
        escape(version()), made.empty() ? std::string() : fmt::format(" &#183; made <time>{}</time>", escape(made)),
        counted(static_cast<long long>(trends.rolls.size()), "roll", "rolls"), counted(static_cast<long long>(sessions.size()), "session", "sessions"),
        counted(static_cast<long long>(trends.baths.size()), "bath", "baths"),
        tiring > 0 ? " " + counted(tiring, "bath is tiring.", "baths are tiring.") : std::string(),
        trends.baths.empty() ? "" : "<a href=\"#trends\">Bath by bath</a> ");
}

}  // namespace
}  // namespace report

std::string history_html(const HistoryTrends& trends, const std::string& folder, const std::string& made) {
    using namespace report;
    const HistoryPage page{trends, folder};
    return "<!DOCTYPE html>\n<html lang=\"en\">\n" + page_head("Film history", version(), {&kPageCss, &kHistoryCss}) +
           "<body>\n<a class=\"skip\" href=\"#main\">Skip to the trends</a>\n" + history_mast(trends, made) + "<main id=\"main\">\n" + baths_section(page) +
           trends_section(page) + habits_section(page) + stocks_section(page) + rolls_section(page) + reading_section(trends) + "</main>\n" + viewer() +
           page_scripts() + "</body>\n</html>\n";
}

}  // namespace basefog
