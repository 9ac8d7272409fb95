// SPDX-License-Identifier: GPL-3.0-or-later
// history: results of many runs in one file, and what they say together.
#include "commands.h"
#include "console.h"
#include "exit_code.h"
#include "plain_text.h"
#include "summary.h"

#include "basefog/core/pending_file.h"
#include "basefog/history/export.h"
#include "basefog/history/find_trends.h"
#include "basefog/history/history_file.h"
#include "basefog/history/read_results.h"
#include "basefog/report/write_history.h"

#include <fmt/format.h>
#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <memory>
#include <optional>
#include <set>
#include <string>
#include <vector>

namespace basefog::cli {
namespace {

namespace fs = std::filesystem;

struct Typed {
    std::string history, html, csv, json;
    std::vector<std::string> results, rolls;
    std::string other;
    bool replace = false, quiet = false;
};

int fail_with(Console& console, const Error& error) {
    console.error(plain(describe(error)));
    return exit_code_of(error);
}

std::string path_of(const Typed& typed) {
    return typed.history.empty() ? default_history_path(std::getenv("XDG_DATA_HOME"), std::getenv("HOME")) : typed.history;
}

Result<HistoryFile> open_history(const Typed& typed, HistoryAccess access, Observer& observer) {
    const std::string path = path_of(typed);
    if (path.empty()) return fail(ErrorCode::usage, "no folder for the history is known: neither XDG_DATA_HOME nor HOME is set", {}, "give --history FILE");
    return HistoryFile::open(path, access, observer);
}

Result<void> write_result(const std::string& path, const std::string& content, bool replace) {
    std::error_code ignored;
    if (!replace && fs::exists(path, ignored)) return fail(ErrorCode::unwritable, "is there already", path, "name another file, or give --replace");
    return write_whole_file(path, content);
}

void print_summary_of(const AddSummary& summary, const std::string& path) {
    fmt::print("{} new, {} replaced, {} known, {} older than what is there\nHistory: {}\n", summary.added, summary.replaced, summary.known, summary.older,
               plain(path));
}

int add(const Typed& typed) {
    Console console(typed.quiet ? Loudness::quiet : Loudness::normal);
    // Everything is read before anything is written: a report that cannot be used leaves the history as it was.
    std::vector<HistoryRoll> rolls;
    for (const std::string& path : typed.results) {
        auto read = read_results(path);
        if (!read) return fail_with(console, read.error());
        rolls.insert(rolls.end(), read->begin(), read->end());
    }
    auto history = open_history(typed, HistoryAccess::write, console);
    if (!history) return fail_with(console, history.error());
    const auto added = history->add(rolls);
    if (!added) return fail_with(console, added.error());
    if (!typed.quiet) print_summary_of(*added, path_of(typed));
    return kOk;
}

int merge(const Typed& typed) {
    Console console(typed.quiet ? Loudness::quiet : Loudness::normal);
    std::error_code ignored;
    if (fs::equivalent(typed.other, path_of(typed), ignored))
        return fail_with(console, {ErrorCode::usage, "this is the history itself", typed.other, "name another one"});
    auto other = HistoryFile::open(typed.other, HistoryAccess::read, console);
    if (!other) return fail_with(console, other.error());
    const auto rolls = other->rolls(true);
    if (!rolls) return fail_with(console, rolls.error());
    auto history = open_history(typed, HistoryAccess::write, console);
    if (!history) return fail_with(console, history.error());
    const auto added = history->add(*rolls);
    if (!added) return fail_with(console, added.error());
    if (!typed.quiet) print_summary_of(*added, path_of(typed));
    return kOk;
}

Result<std::vector<HistoryRoll>> rolls_of(const Typed& typed, Observer& observer) {
    auto history = open_history(typed, HistoryAccess::read, observer);
    if (!history) return Failure(std::move(history.error()));
    return history->rolls();
}

void print_lines(const char* heading, const std::vector<std::string>& lines) {
    if (lines.empty()) return;
    fmt::print("\n{}\n", heading);
    for (const std::string& line : lines) fmt::print("  {}\n", plain(line));
}

void print_trends(const HistoryTrends& trends) {
    std::set<std::string> sessions;
    for (const HistoryRoll& roll : trends.rolls) sessions.insert(roll.session + (roll.session_date ? to_string(*roll.session_date) : ""));
    fmt::print("{} rolls in {} sessions. {} questions asked, {} answered; were all of it chance, any answer at all would come up in {:.0f} of 100 histories.\n",
               trends.rolls.size(), sessions.size(), trends.questions, trends.claims, 100 * trends.family_error);
    std::vector<std::string> baths, washes, tanks, stocks;
    for (const BathTrend& bath : trends.baths)
        baths.push_back(bath.bath + (bath.mixed_on ? ", mixed " + to_string(*bath.mixed_on) : std::string()) + ": " + bath.text);
    for (const Comparison& c : trends.comparisons) (c.habit == Habit::wash ? washes : tanks).push_back(c.text);
    for (const ReelTrend& reel : trends.reels) tanks.push_back(reel.text);
    for (const StockAge& age : trends.stocks)
        stocks.push_back(age.stock + (age.years ? fmt::format(", {} to {} years past its date", *age.years, *age.years + 5) : std::string()) + ": " + age.text);
    for (const AgeTrend& age : trends.ages) stocks.push_back(age.stock + ": " + age.text);
    print_lines("Baths", baths);
    print_lines("Washes", washes);
    print_lines("Tanks and places in them", tanks);
    print_lines("Stocks", stocks);
    fmt::print("\nHandling chemistry: gloves, eye protection, fresh air; the safety data sheets and your local rules go first.\n");
}

int show(const Typed& typed) {
    Console console(typed.quiet ? Loudness::quiet : Loudness::normal);
    auto rolls = rolls_of(typed, console);
    if (!rolls) return fail_with(console, rolls.error());
    const auto trends = find_trends(std::move(*rolls), TrendOptions{});
    if (!trends) return fail_with(console, trends.error());
    if (!typed.html.empty()) {
        std::error_code ignored;
        const std::string folder = fs::absolute(fs::path(typed.html), ignored).lexically_normal().parent_path().string();
        if (auto written = write_result(typed.html, history_html(*trends, folder, time_now()), typed.replace); !written)
            return fail_with(console, written.error());
    }
    if (!typed.quiet) print_trends(*trends);
    if (!typed.html.empty() && !typed.quiet) fmt::print("Page: {}\n", plain(typed.html));
    return kOk;
}

/// "R1", or "march-14/R1" where several sessions have one.
Result<HistoryRoll> find_roll(const std::vector<HistoryRoll>& rolls, const std::string& wanted) {
    std::vector<const HistoryRoll*> found;
    for (const HistoryRoll& roll : rolls)
        if (roll.roll == wanted || roll.session + "/" + roll.roll == wanted) found.push_back(&roll);
    if (found.size() == 1) return *found.front();
    if (found.empty()) return fail(ErrorCode::usage, "the history holds no roll \"" + wanted + "\"", {}, "basefog history export --csv - lists them");
    std::string names;
    for (const HistoryRoll* roll : found) names += (names.empty() ? "" : ", ") + roll->session + "/" + roll->roll;
    return fail(ErrorCode::usage, "several rolls are named \"" + wanted + "\"", {}, "name one of: " + names);
}

std::string shown(const std::optional<double>& value, int digits) { return value ? fmt::format("{:.{}f}", *value, digits) : "-"; }

void print_comparison(const std::vector<HistoryRoll>& rolls) {
    using Text = std::string (*)(const HistoryRoll&);
    const auto or_dash = [](const std::string& text) { return text.empty() ? std::string("-") : text; };
    const std::pair<const char*, Text> rows[] = {
        {"session", [](const HistoryRoll& r) { return r.session; }},
        {"date", [](const HistoryRoll& r) { return r.session_date ? to_string(*r.session_date) : std::string(); }},
        {"stock", [](const HistoryRoll& r) { return r.stock; }},
        {"rated, EI", [](const HistoryRoll& r) { return shown(r.rating, 0); }},
        {"bath", [](const HistoryRoll& r) { return bath_name(r); }},
        {"rolls before", [](const HistoryRoll& r) { return r.rolls_done_before ? fmt::format("{}", *r.rolls_done_before) : std::string(); }},
        {"bath age, days", [](const HistoryRoll& r) { return r.bath_age_days ? fmt::format("{}", *r.bath_age_days) : std::string(); }},
        {"wash", [](const HistoryRoll& r) { return wash_recipe(r); }},
        {"tank, place", [](const HistoryRoll& r) { return r.tank + (r.reel ? fmt::format(", {}", *r.reel) : std::string()); }},
        {"base + fog R", [](const HistoryRoll& r) { return shown(r.base_red, 3); }},
        {"base + fog G", [](const HistoryRoll& r) { return shown(r.base_green, 3); }},
        {"base + fog B", [](const HistoryRoll& r) { return shown(r.base_blue, 3); }},
        {"slope R", [](const HistoryRoll& r) { return shown(r.slope_red, 2); }},
        {"slope G", [](const HistoryRoll& r) { return shown(r.slope_green, 2); }},
        {"slope B", [](const HistoryRoll& r) { return shown(r.slope_blue, 2); }},
        {"backing left, %", [](const HistoryRoll& r) { return shown(r.residue_area_percent, 1); }},
        {"rating", [](const HistoryRoll& r) { return r.outcome; }},
        {"report", [](const HistoryRoll& r) { return r.report; }},
    };
    std::vector<std::size_t> widths;
    for (const HistoryRoll& roll : rolls) {
        std::size_t width = roll.roll.size();
        for (const auto& [name, text] : rows) width = std::max(width, text(roll).size());
        widths.push_back(width);
    }
    const auto print_row = [&](const std::string& name, const auto& text) {
        std::string line = fmt::format("{:16}", name);
        for (std::size_t i = 0; i < rolls.size(); ++i) line += fmt::format("  {:<{}}", plain(or_dash(text(rolls[i]))), widths[i]);
        fmt::print("{}\n", line.substr(0, line.find_last_not_of(' ') + 1));
    };
    print_row("", [](const HistoryRoll& r) { return r.roll; });
    for (const auto& [name, text] : rows) print_row(name, text);
}

int compare(const Typed& typed) {
    Console console(Loudness::normal);
    const auto rolls = rolls_of(typed, console);
    if (!rolls) return fail_with(console, rolls.error());
    std::vector<HistoryRoll> chosen;
    for (const std::string& name : typed.rolls) {
        auto roll = find_roll(*rolls, name);
        if (!roll) return fail_with(console, roll.error());
        chosen.push_back(std::move(*roll));
    }
    print_comparison(chosen);
    return kOk;
}

int export_to(const Typed& typed) {
    Console console(typed.quiet ? Loudness::quiet : Loudness::normal);
    if (typed.csv.empty() && typed.json.empty())
        return fail_with(console, {ErrorCode::usage, "nothing to write", {}, "give --csv FILE, --json FILE or both; - is standard output"});
    const auto rolls = rolls_of(typed, console);
    if (!rolls) return fail_with(console, rolls.error());
    for (const bool csv : {true, false}) {
        const std::string& path = csv ? typed.csv : typed.json;
        if (path.empty()) continue;
        const std::string content = csv ? history_csv(*rolls) : history_json(*rolls);
        if (path == "-") {
            if (std::fwrite(content.data(), 1, content.size(), stdout) != content.size() || std::fflush(stdout) != 0) return kOutput;
        } else if (auto written = write_result(path, content, typed.replace); !written) {
            return fail_with(console, written.error());
        }
    }
    return kOk;
}

}  // namespace

void add_history_commands(CLI::App& app, Action& action) {
    auto typed = std::make_shared<Typed>();
    CLI::App* history = app.add_subcommand("history", "results of many runs in one file, and what they say together");
    history->require_subcommand(0, 1);
    history->fallthrough();
    history->add_option("--history", typed->history, "the history (default: basefog/history.sqlite in the data folder)")->option_text("FILE");
    history->add_option("--html", typed->html, "(show) write the trends as a page")->option_text("FILE");
    history->add_flag("--replace", typed->replace, "write over an earlier page or export");
    history->add_flag("--quiet", typed->quiet, "print errors only");
    const auto command = [&](const char* name, const char* what, int (*act)(const Typed&)) {
        CLI::App* sub = history->add_subcommand(name, what);
        sub->fallthrough();
        sub->callback([&action, typed, act] { action = [typed, act] { return act(*typed); }; });
        return sub;
    };
    command("add", "add results; the same results twice change nothing", add)
        ->add_option("RESULTS", typed->results, "results folders, or their report.json")
        ->required();
    command("show", "trends over baths, washes, tanks and stocks", show);
    command("compare", "rolls side by side", compare)->add_option("ROLL", typed->rolls, "a roll's name, or SESSION/ROLL")->required()->expected(2, -1);
    CLI::App* to_files = command("export", "all rolls for a spreadsheet or a program", export_to);
    to_files->add_option("--csv", typed->csv, "write CSV; - is standard output")->option_text("FILE");
    to_files->add_option("--json", typed->json, "write JSON; - is standard output")->option_text("FILE");
    command("merge", "take in what another history holds", merge)->add_option("OTHER", typed->other, "another history's file")->required();
    history->callback([history, &action, typed] {
        if (history->get_subcommands().empty()) action = [typed] { return show(*typed); };
    });
}

}  // namespace basefog::cli
