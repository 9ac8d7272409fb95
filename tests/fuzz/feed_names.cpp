// SPDX-License-Identifier: GPL-3.0-or-later
#include "fuzz/targets.h"

#include "basefog/core/assert.h"
#include "basefog/report/write_report.h"
#include "report/sample_record.h"

#include <algorithm>
#include <nlohmann/json.hpp>
#include <vector>

namespace basefog::fuzz {
namespace {

constexpr std::size_t kNames = 7;

/// A small run with names from outside wherever a report takes them.
RunRecord named(const std::array<std::string, kNames>& names) {
    RunRecord record = sample::failed_only();
    ScanRecord scan = sample::scan(names[0], 60, 45);
    scan.info.profile_name = names[6];
    scan.strips.push_back(sample::strip({names[1], 3, 3, 0, false, 1, 1, 0.2, false}, sample::base_of(0.2, 0.6, 0.9, false),
                                        sample::residue_of(ResidueGrade::trace, 1, 0.01, 0, {})));
    scan.strips[0].frames[0].positive = names[5];
    record.scans[0].failure->what = names[4];
    record.scans.push_back(std::move(scan));
    RollRecord roll = sample::roll(names[1], sample::stock(names[2], StockKind::colour_negative, 500, 3200, "ECN-2"),
                                   sample::session(names[3], sample::date(2026, 3, 14), 2), 400, 1);
    roll.film.model = sample::film_model(-1, false);
    record.rolls = {std::move(roll)};
    record.findings = {{Severity::caution, "edge-uncertain", names[4], {names[0], 0, 0, names[1]}, {{"confidence", 0.5}}}};
    record.settings = {{"ledger", names[5]}};
    sample::collect_frames(record);
    return record;
}

std::array<std::string, kNames> split(std::string_view bytes) {
    std::array<std::string, kNames> names;
    for (std::string& name : names) {
        const std::size_t end = std::min(bytes.find('\0'), bytes.size());
        name = bytes.substr(0, end);
        bytes.remove_prefix(std::min(end + 1, bytes.size()));
    }
    return names;
}

/// What makes markup of a page, without what stands between: tags with the names of their attributes.
std::string skeleton(const std::string& html) {
    std::string shape;
    bool in_tag = false, in_quotes = false;
    for (const char c : html) {
        if (!in_tag && c == '<') in_tag = true;
        if (in_tag && (!in_quotes || c == '"')) shape += c;
        if (in_tag && c == '"') in_quotes = !in_quotes;
        if (in_tag && !in_quotes && c == '>') in_tag = false;
    }
    return shape;
}

/// Records and cells of RFC 4180, and whether a cell begins a formula.
struct Table {
    std::vector<std::size_t> cells_of_records;
    bool formula = false;
};
Table read_csv(const std::string& csv) {
    Table table;
    bool quoted = false, at_start = true, opened = false;  // at_start: of a cell's text
    std::size_t cells = 1;
    for (std::size_t i = 0; i < csv.size(); ++i) {
        const char c = csv[i];
        if (c == '"') quoted = !quoted;
        if (at_start && (c == '=' || c == '@' || c == '+')) table.formula = true;
        opened = at_start && !opened && c == '"';  // a second quote is text
        at_start = opened || (!quoted && (c == ',' || c == '\n'));
        if (quoted) continue;
        if (c == ',') ++cells;
        if (c == '\n') table.cells_of_records.push_back(std::exchange(cells, 1));
    }
    return table;
}

}  // namespace

void feed_names(std::string_view bytes) {
    // What is empty may be left out of a page, so every name holds a letter at least. Lengths do not change a page's shape.
    std::array<std::string, kNames> names = split(bytes), plain;
    for (std::size_t i = 0; i < kNames; ++i) {
        names[i] += 'x';
        plain[i] = "x";
    }
    const RunRecord hostile = named(names), harmless = named(plain);
    BASEFOG_ASSERT(skeleton(report_html(hostile)) == skeleton(report_html(harmless)));
    const std::string json = report_json(hostile);
    BASEFOG_ASSERT(nlohmann::json::accept(json));
    const Table table = read_csv(frames_csv(hostile));
    BASEFOG_ASSERT(table.cells_of_records == read_csv(frames_csv(harmless)).cells_of_records && !table.formula);
}

}  // namespace basefog::fuzz
