// SPDX-License-Identifier: GPL-3.0-or-later
// Findings, sessions and baths, settings, and what the numbers mean.
#include "report/page.h"
#include "report/text.h"
#include "report/words.h"

#include <fmt/format.h>

namespace basefog::report {
namespace {

std::string finding_item(const Page& page, std::size_t index) {
    const Finding& finding = page.findings[index];
    std::string numbers;
    for (const auto& [label, value] : finding.numbers) numbers += fmt::format("{}{} {}", numbers.empty() ? "" : ", ", escape(label), short_number(value));
    const std::string place = place_links(page, finding.where);
    std::string html = fmt::format("<li id=\"{}\">{}<p>{}</p>\n<p class=\"dim\"><code>{}</code>", finding_anchor(index), finding_picture(page, finding.where),
                                   escape(finding.message), escape(finding.code));
    if (!place.empty()) html += " &#183; " + place;
    if (!numbers.empty()) html += " &#183; " + numbers;
    return html + "</p></li>\n";
}

template <class T>
std::string with_unit(const std::optional<T>& value, std::string_view unit) {
    if constexpr (std::is_arithmetic_v<T>)
        return value ? short_number(static_cast<double>(*value)) + std::string(unit) : std::string();
    else
        return value ? short_number(value->value()) + std::string(unit) : std::string();
}

std::string wash_words(const Session& session) {
    if (!session.wash) return "not told";
    const BackingWash& wash = *session.wash;
    std::string text = wash.agent.empty() ? std::string("agent not told") : name(wash.agent);
    for (const std::string& part : {with_unit(wash.grams_per_litre, " g/l"), with_unit(wash.temperature, " &#176;C"), with_unit(wash.soak_minutes, " min soak"),
                                    wash.rinses ? counted(*wash.rinses, "rinse", "rinses") : std::string()})
        if (!part.empty()) text += ", " + part;
    return text;
}

std::string developer_words(const Session& session) {
    const std::string minutes = with_unit(session.developer_minutes, " min"), temperature = with_unit(session.developer_temperature, " &#176;C");
    if (minutes.empty() && temperature.empty()) return "not told";
    return minutes.empty() || temperature.empty() ? minutes + temperature : minutes + " at " + temperature;
}

std::string session_rolls(const Page& page, const Session& session) {
    std::string html;
    for (std::size_t i = 0; i < page.record.rolls.size(); ++i) {
        const RollRecord& roll = page.record.rolls[i];
        if (roll.roll.session != session.id && !(roll.session && roll.session->id == session.id)) continue;
        html += (html.empty() ? "" : "; ") + link(roll_anchor(static_cast<int>(i)), name(roll.roll.id));
        if (!roll.roll.tank.empty()) html += ", " + name(roll.roll.tank);
        if (roll.roll.reel) html += fmt::format(", reel {}", *roll.roll.reel);
        html += fmt::format(", backing {}", words(roll.worst_residue));
    }
    return html;
}

std::string session_article(const Page& page, std::size_t index) {
    const Session& session = *page.sessions[index];
    std::string html = fmt::format("<article id=\"session-{}\" class=\"card\">\n<h3>Session {}</h3>\n<dl class=\"facts\">\n", index + 1, name(session.id));
    html += item("Date", session.date ? to_string(*session.date) : std::string()) + item("Process", session.process.empty() ? "" : name(session.process));
    html += item("Bath", session.bath.empty() ? "not told" : link(bath_anchor(page, session.bath), name(session.bath)));
    html += item("Developer", developer_words(session)) + item("Backing wash", wash_words(session)) + item("Rolls here", session_rolls(page, session));
    return html + "</dl>\n</article>\n";
}

std::string bath_article(const Page& page, std::size_t index) {
    const Bath& bath = *page.baths[index];
    std::string html = fmt::format("<article id=\"bath-{}\" class=\"card\">\n<h3>Bath {}</h3>\n<dl class=\"facts\">\n", index + 1, name(bath.id));
    html += item("Kind", bath.kind.empty() ? "" : name(bath.kind)) + item("Volume", with_unit(bath.volume_litres, " l"));
    html += item("Mixed on", bath.mixed_on ? to_string(*bath.mixed_on) : std::string()) + item("Good for", with_unit(bath.good_for_rolls, " rolls"));
    for (std::size_t i = 0; i < page.record.rolls.size(); ++i) {
        const RollRecord& roll = page.record.rolls[i];
        if (roll.bath && roll.bath->id == bath.id) html += item("Roll " + name(roll.roll.id), bath_state(roll).text);
    }
    return html + "</dl>\n</article>\n";
}

}  // namespace

std::string findings_section(const Page& page) {
    std::string html = "<section id=\"findings\" aria-labelledby=\"h-findings\">\n<h2 id=\"h-findings\">Findings</h2>\n";
    if (page.findings.empty()) return html + "<p>None.</p>\n</section>\n";
    for (std::size_t i = 0; i < page.findings.size(); ++i) {
        const Severity severity = page.findings[i].severity;
        const bool first = i == 0 || page.findings[i - 1].severity != severity;
        const bool last = i + 1 == page.findings.size() || page.findings[i + 1].severity != severity;
        if (first) html += fmt::format("<h3 class=\"find {0}\"><span class=\"mark\">{0}</span></h3>\n<ul class=\"findings\">\n", heading(severity));
        html += finding_item(page, i);
        if (last) html += "</ul>\n";
    }
    return html + "</section>\n";
}

std::string sessions_section(const Page& page) {
    std::string html = "<section id=\"sessions\" aria-labelledby=\"h-sessions\">\n<h2 id=\"h-sessions\">Sessions and baths</h2>\n";
    if (page.sessions.empty() && page.baths.empty())
        return html + "<p>Nothing was told about development. With a ledger, every frame leads to its wash, bath, tank and reel.</p>\n</section>\n";
    html += "<div class=\"cards\">\n";
    for (std::size_t i = 0; i < page.sessions.size(); ++i) html += session_article(page, i);
    for (std::size_t i = 0; i < page.baths.size(); ++i) html += bath_article(page, i);
    return html + "</div>\n</section>\n";
}

std::string settings_section(const Page& page) {
    const RunRecord& record = page.record;
    std::string html =
        "<section id=\"settings\" aria-labelledby=\"h-settings\">\n<h2 id=\"h-settings\">Settings, and how to repeat this</h2>\n<dl class=\"facts\">\n";
    html += item("Program", "basefog " + escape(record.version)) + item("Command", record.command.empty() ? "" : "<code>" + escape(record.command) + "</code>");
    html += item("Ledger", record.ledger.empty() ? "none" : name(record.ledger)) + item("Finished", escape(record.finished));
    for (const auto& [setting, value] : record.settings) html += item(escape(setting), "<code>" + name(value) + "</code>");
    std::string scans;
    for (const ScanRecord& scan : record.scans) scans += (scans.empty() ? "" : ", ") + name(scan.file);
    return html + item("Scans", scans) +
           "</dl>\n<p>The same version, scans, ledger and settings give the same results, byte for byte, but for the time stamped on them.</p>\n</section>\n";
}

std::string glossary_section() {
    std::string html = "<section id=\"glossary\" aria-labelledby=\"h-glossary\">\n<h2 id=\"h-glossary\">What the numbers mean</h2>\n<dl class=\"glossary\">\n";
    html += item("Density", "Minus the log10 of the light that passes, against bare light unless the sheet says otherwise. 0.30 is half the light.");
    html += item("Base + fog", "Density of the clear film of the strip, orange mask included. Age and tired chemistry raise it.");
    html += item("Slope", "Of the straight part of a layer&#39;s curve: density for ten times the exposure.");
    html +=
        item("Exposure",
             "Stops from the stock&#39;s aim. Its zero is a convention, the same for all rolls of a stock: differences between frames are what is measured.");
    html += item("Shadows lost", "Share of the picture that cannot be told from base: below twice the noise of a 0.1 mm spot.");
    html += item("Highlights lost", "Share of the picture on the shoulder or at the scan&#39;s limit, where steps vanish.");
    html += item("Backing left",
                 "Share of the film with more than 0.05 density of leftover backing. Clean: none told from noise. Trace: specks and smears on at most 2 %. "
                 "Partial: up to 12 %, or a veil of 0.010 to 0.025. Heavy: more.");
    html += item("&#177;", "One standard uncertainty.");
    return html + "</dl>\n</section>\n";
}

}  // namespace basefog::report
