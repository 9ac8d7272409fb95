// SPDX-License-Identifier: GPL-3.0-or-later
// The page as a whole, and the small pieces every section uses.
#include "basefog/core/assert.h"
#include "basefog/report/write_report.h"
#include "report/page.h"
#include "report/text.h"
#include "report/words.h"

#include <fmt/format.h>

#include <algorithm>

namespace basefog {
namespace report {

Page make_page(const RunRecord& record) {
    Page page{record, all_findings(record), all_sessions(record), all_baths(record), {}};
    const auto more_severe = [](const Finding& a, const Finding& b) { return a.severity > b.severity; };
    std::stable_sort(page.findings.begin(), page.findings.end(), more_severe);
    return page;
}

std::string roll_anchor(int roll) { return fmt::format("roll-{}", roll + 1); }
std::string scan_anchor(int scan) { return fmt::format("sheet-{}", scan + 1); }
std::string frame_anchor(const FrameRef& ref) { return fmt::format("frame-{}-{}-{}", ref.scan + 1, ref.strip + 1, ref.frame + 1); }
std::string finding_anchor(std::size_t finding) { return fmt::format("finding-{}", finding + 1); }

namespace {

template <class T>
std::string anchor_of(const char* prefix, const std::vector<const T*>& list, const std::string& id) {
    for (std::size_t i = 0; i < list.size(); ++i)
        if (list[i]->id == id) return fmt::format("{}-{}", prefix, i + 1);
    return {};
}

}  // namespace

std::string session_anchor(const Page& page, const std::string& id) { return anchor_of("session", page.sessions, id); }
std::string bath_anchor(const Page& page, const std::string& id) { return anchor_of("bath", page.baths, id); }

std::string name(std::string_view text) { return "<bdi>" + escape(text) + "</bdi>"; }

std::string embedded(const Page& page, const KeptBytes& picture) {
    auto bytes = picture.read();
    if (bytes) return base64(*bytes);
    if (!page.unreadable) page.unreadable = std::move(bytes.error());
    return {};
}

std::string link(const std::string& anchor, const std::string& content) {
    return anchor.empty() ? content : fmt::format("<a href=\"#{}\">{}</a>", anchor, content);
}

std::string file_link(const std::string& path, std::string_view label) {
    return path.empty() ? std::string() : fmt::format("<a href=\"{}\">{}</a>", link_to(path), label);
}

std::string item(std::string_view term, const std::string& value) {
    return value.empty() ? std::string() : fmt::format("<div><dt>{}</dt><dd>{}</dd></div>\n", term, value);
}

std::string densities(const Rgb<Measured<Density>>& base, int digits, bool with_std) {
    constexpr const char* kNames[] = {"red", "green", "blue"};
    std::string text;
    for (int i = 0; i < 3; ++i) {
        std::string value = fixed(base[i].value.value(), digits);
        if (with_std) value = with_uncertainty(std::move(value), base[i].std_uncertainty.value(), digits);
        text += fmt::format("<span class=\"c {0}\"><abbr title=\"{0}\">{1}</abbr> {2}</span> ", kNames[i], "RGB"[i], value);
    }
    text.pop_back();
    return text;
}

std::string place_links(const Page& page, const Where& where) {
    std::vector<std::string> places;
    const auto roll = find_roll(page.record, where.roll);
    if (!where.roll.empty()) places.push_back(link(roll ? roll_anchor(*roll) : "", "roll " + name(where.roll)));
    const auto scan = find_scan(page.record, where.scan);
    if (!where.scan.empty()) places.push_back(link(scan ? scan_anchor(*scan) : "", name(where.scan)));
    if (where.strip >= 0) places.push_back(fmt::format("strip {}", where.strip + 1));
    if (const auto place = find_place(page.record, where))
        places.push_back(link(frame_anchor(*place), fmt::format("frame {}", find_frame(page.record, *place)->number)));
    std::string text;
    for (const std::string& place : places) text += (text.empty() ? "" : ", ") + place;
    return text;
}

std::string finding_links(const Page& page, const std::vector<std::size_t>& findings) {
    std::string text;
    for (const std::size_t i : findings) {
        const Finding& finding = page.findings[i];
        text += fmt::format("<a class=\"find {0}\" href=\"#{1}\"><span class=\"mark\">{2}</span> {3}</a> ", heading(finding.severity), finding_anchor(i),
                            heading(finding.severity), escape(finding.code));
    }
    return text;
}

namespace {

std::string summary_line(const Page& page) {
    const Totals t = count_totals(page.record);
    std::string text =
        t.failed_scans == 0 ? counted(t.scans, "scan", "scans") : fmt::format("{} of {} usable", t.scans - t.failed_scans, counted(t.scans, "scan", "scans"));
    text += ", " + counted(static_cast<long long>(page.record.rolls.size()), "roll", "rolls") + ", " + counted(t.pictures, "picture", "pictures");
    if (t.blank > 0) text += fmt::format(", {} blank", t.blank);
    if (t.fogged > 0) text += fmt::format(", {} fogged", t.fogged);
    return text + ".";
}

std::string attention_line(const Page& page) {
    long long count[3] = {0, 0, 0};
    for (const Finding& f : page.findings) ++count[static_cast<int>(f.severity)];
    if (page.findings.empty()) return "No findings.";
    std::string text;
    const auto add = [&](long long n, const char* one, const char* many) {
        if (n > 0) text += (text.empty() ? "" : ", ") + counted(n, one, many);
    };
    add(count[2], "serious finding", "serious findings");
    add(count[1], "caution", "cautions");
    add(count[0], "note", "notes");
    return "<a href=\"#findings\">" + text + "</a>.";
}

std::string page_title(const RunRecord& record) {
    std::string rolls;
    constexpr std::size_t kNamed = 6;  // Chosen: what a browser's tab and history still show
    for (std::size_t i = 0; i < record.rolls.size() && i < kNamed; ++i) rolls += (i == 0 ? ": " : ", ") + record.rolls[i].roll.id;
    return "Film report" + rolls + (record.rolls.size() > kNamed ? " and more" : "");
}

std::string masthead(const Page& page) {
    const RunRecord& record = page.record;
    const std::string when = record.finished.empty() ? std::string() : fmt::format(" &#183; finished <time>{}</time>", escape(record.finished));
    return fmt::format(
        "<header class=\"mast\">\n<p class=\"eyebrow\">basefog {}{}</p>\n<h1>Film report</h1>\n<p class=\"lead\">{} {}</p>\n"
        "<nav aria-label=\"Contents\"><a href=\"#verdicts\">Verdicts</a> <a href=\"#rolls\">Rolls</a> <a href=\"#film\">Film</a> <a "
        "href=\"#sheets\">Sheets</a> "
        "<a href=\"#frames\">Frames</a> <a href=\"#findings\">Findings</a> <a href=\"#sessions\">Sessions</a> <a "
        "href=\"#settings\">Settings</a></nav>\n</header>\n",
        escape(record.version), when, summary_line(page), attention_line(page));
}

}  // namespace
}  // namespace report

Result<void> report_html(const RunRecord& record, const std::function<Result<void>(std::string_view)>& write) {
    using namespace report;
    const Page page = make_page(record);
    Result<void> done;
    const Emit emit = [&](std::string_view piece) {
        if (done && page.unreadable) done = Failure(*page.unreadable);
        if (done) done = write(piece);
    };
    emit("<!DOCTYPE html>\n<html lang=\"en\">\n" + page_head(page_title(record), record.version, {&kPageCss}) +
         "<body>\n<a class=\"skip\" href=\"#main\">Skip to the results</a>\n" + masthead(page) + "<main id=\"main\">\n" + failures_section(page));
    for (const auto section : {verdicts_section, roll_table_section, comparisons_section, film_section}) emit(section(page));
    sheets_section(page, emit);
    frames_section(page, emit);
    for (const auto section : {findings_section, sessions_section, settings_section}) emit(section(page));
    emit(glossary_section() + "</main>\n" + viewer() + page_scripts() + "</body>\n</html>\n");
    return done;
}

std::string report_html(const RunRecord& record) {
    std::string page;
    const auto written = report_html(record, [&](std::string_view piece) -> Result<void> {
        page += piece;
        return {};
    });
    BASEFOG_ASSERT(written);  // memory is all it needs
    return page;
}

}  // namespace basefog
