// SPDX-License-Identifier: GPL-3.0-or-later
// Scans that failed, the verdicts, the table of rolls, and each roll's film.
#include "report/names.h"
#include "report/page.h"
#include "report/text.h"
#include "report/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace basefog::report {
namespace {

std::string meter(ResidueGrade grade) {
    std::string boxes;
    for (int i = 1; i <= 3; ++i) boxes += i <= level(grade) ? "<i class=\"on\"></i>" : "<i></i>";
    return fmt::format("<span class=\"meter {}\" aria-hidden=\"true\">{}</span>", name_of(grade), boxes);
}

std::string rating_words(const RollRecord& roll) {
    const std::optional<double> rating = roll.roll.rating ? roll.roll.rating : roll.facts.rating;
    std::string text = rating ? "EI " + short_number(*rating) : "not told";
    if (roll.facts.box_speed) text += ", box " + short_number(*roll.facts.box_speed);
    constexpr double kSame = 0.05;  // stops, what one digit shows as none
    if (const auto over = roll.film.verdict.rated_over; over && !(std::abs(over->value()) < kSame)) {
        const bool one = std::abs(std::abs(over->value()) - 1) < kSame;
        text += " (" + with_sign(over->value(), 1) + (one ? " stop)" : " stops)");
    }
    return text;
}

std::string session_link(const Page& page, const RollRecord& roll) {
    const std::string id = !roll.roll.session.empty() || !roll.session ? roll.roll.session : roll.session->id;
    return id.empty() ? std::string() : link(session_anchor(page, id), name(id));
}

std::string bath_line(const Page& page, const RollRecord& roll) {
    const std::string id = roll.bath ? roll.bath->id : roll.session ? roll.session->bath : std::string();
    if (id.empty() && !roll.rolls_done_before) return "not told";
    const BathState state = bath_state(roll);
    const std::string words = state.spent ? fmt::format("<strong class=\"warn\">{}</strong>", state.text) : state.text;
    return (id.empty() ? std::string() : link(bath_anchor(page, id), name(id)) + ": ") + words;
}

/// The densest veil told apart on the roll's strips: a roll can be graded by it with hardly any area over the limit.
std::string veil_words(const Page& page, const std::string& roll) {
    constexpr double kShown = 0.005;  // Chosen: half of what the grade "partial" begins with
    double veil = 0;
    for (const ScanRecord& scan : page.record.scans)
        for (const StripRecord& strip : scan.strips)
            if (strip.roll == roll && strip.residue.veil_separable) veil = std::max(veil, strip.residue.veil.value.value());
    return veil >= kShown && std::isfinite(veil) ? ", veil " + fixed(veil, 3) : std::string();
}

/// Which frames a second wash is for, and where along the roll they lie.
std::string wash_words(const RollRecord& roll) {
    std::string text;
    if (!roll.residue_place.empty()) text += " Most of it is " + escape(roll.residue_place) + ".";
    if (roll.rewash_frames.empty()) return text;
    text += roll.rewash_frames.size() == 1 ? " Worth washing again: frame" : " Worth washing again: frames";
    for (std::size_t i = 0; i < roll.rewash_frames.size(); ++i) text += fmt::format("{} {}", i == 0 ? "" : ",", roll.rewash_frames[i]);
    return text + ".";
}

std::string roll_keys(const Page& page, int index);

std::string verdict_card(const Page& page, int index) {
    const RollRecord& roll = page.record.rolls[static_cast<std::size_t>(index)];
    const Verdict& verdict = roll.film.verdict;
    const ResidueGrade grade = roll.worst_residue;
    const std::string stock = stock_name(roll).empty() ? "stock not told" : name(stock_name(roll));
    std::string html = fmt::format("<article class=\"verdict {}\"{}>\n<p class=\"eyebrow\">{}</p>\n<h3>{}</h3>\n", name_of(verdict.outcome),
                                   roll_keys(page, index), stock, link(roll_anchor(index), name(roll.roll.id)));
    html += fmt::format("<p class=\"outcome\">{}</p>\n<p>{}</p>\n", headline(verdict.outcome), escape(verdict.text));
    html += fmt::format("<div class=\"residue\"><p>{} Backing: <strong>{}</strong>{}</p>\n<p>{}{}</p></div>\n", meter(grade), words(grade),
                        grade == ResidueGrade::clean ? "" : ", " + percent(roll.residue_area_percent) + " % of the film" + veil_words(page, roll.roll.id),
                        std::string(advice(grade)) + wash_words(roll),
                        grade == ResidueGrade::clean ? "" : " <a href=\"#cautions\">Gloves, eye protection, fresh air: read the cautions first.</a>");
    html += "<dl class=\"facts\">\n" + item("Rated", rating_words(roll)) + item("Bath", bath_line(page, roll)) + "</dl>\n</article>\n";
    return html;
}

std::string cautions() {
    return "<aside id=\"cautions\" class=\"cautions\" aria-label=\"Cautions for washing again\">\n<h3>Before you wash film again</h3>\n<ul>\n"
           "<li>Wear gloves and eye protection and keep the room ventilated: a backing bath is warm and alkaline.</li>\n"
           "<li>Never mix chemicals, and never pour one bath into another.</li>\n"
           "<li>Follow the safety data sheet of everything you use. Where it and this page differ, the sheet is right.</li>\n"
           "<li>Catch the carbon sludge. What may go down a drain and how the rest is disposed of is for your local rules to say.</li>\n"
           "<li>Wet emulsion is soft. Try the strip you would miss least, and keep hands and tools off the emulsion side. A second wash does not always "
           "help.</li>\n"
           "</ul>\n</aside>\n";
}

std::string swatch(const RollRecord& roll) {
    const auto& c = roll.mask_srgb;
    return fmt::format("<span class=\"swatch\" style=\"background:rgb({},{},{})\" aria-hidden=\"true\"></span>", c[0], c[1], c[2]);
}

std::vector<double> sorted_offsets(const Page& page, const RollRecord& roll) {
    std::vector<double> offsets;
    for (const FrameRef& ref : roll.frames) {
        const FrameRecord* frame = find_frame(page.record, ref);
        if (frame != nullptr && has_exposure(*frame) && std::isfinite(frame->exposure.offset.value.value()))
            offsets.push_back(frame->exposure.offset.value.value());
    }
    std::sort(offsets.begin(), offsets.end());
    return offsets;
}

/// Of a sorted list; NaN of none.
double median_of(const std::vector<double>& sorted) {
    if (sorted.empty()) return std::nan("");
    const std::size_t half = sorted.size() / 2;
    return sorted.size() % 2 == 1 ? sorted[half] : (sorted[half - 1] + sorted[half]) / 2;
}

std::string offsets_median(const std::vector<double>& offsets) {
    if (offsets.empty()) return "&#8211;";
    const double median = median_of(offsets);
    return fmt::format("{} <span class=\"dim\">({} to {})</span>", with_sign(median, 1), with_sign(offsets.front(), 1), with_sign(offsets.back(), 1));
}

std::string slopes(const FilmModel& model, bool with_std) {
    constexpr const char* kNames[] = {"red-sensitive layer", "green-sensitive layer", "blue-sensitive layer"};
    std::string text;
    for (int i = 0; i < (model.silver ? 1 : 3); ++i) {
        std::string value = fixed(model.slope[i].value, 2);
        if (with_std) value = with_uncertainty(std::move(value), model.slope[i].std_uncertainty, 2);
        const std::string flags = words(model.slope[i].flags);
        const std::string flag_text = flags.empty() ? "" : with_std ? " (" + flags + ")" : "*";
        const std::string label = model.silver ? std::string() : fmt::format("<abbr title=\"{}\">{}</abbr> ", kNames[i], "RGB"[i]);
        text += fmt::format("<span class=\"c\">{}{}{}</span> ", label, value, flag_text);
    }
    text.pop_back();
    return text;
}

std::string cell(std::string_view label, const std::string& content, std::string_view tag = "td") {
    const std::string_view role = tag == "th" ? " scope=\"row\" role=\"rowheader\"" : " role=\"cell\"";
    return fmt::format("<{0}{3} data-label=\"{1}\"><span>{2}</span></{0}>", tag, label, content.empty() ? "&#8211;" : content, role);
}

std::string roll_row(const Page& page, int index) {
    const RollRecord& roll = page.record.rolls[static_cast<std::size_t>(index)];
    const auto found = findings_where(page, [&](const Where& where) { return where.roll == roll.roll.id && !where.roll.empty(); });
    const std::string residue =
        fmt::format("{} {}{}", meter(roll.worst_residue), words(roll.worst_residue),
                    roll.worst_residue == ResidueGrade::clean ? "" : fmt::format(" <span class=\"dim\">{} %</span>", percent(roll.residue_area_percent)));
    return "<tr role=\"row\"" + roll_keys(page, index) + ">" + cell("Roll", link(roll_anchor(index), name(roll.roll.id)), "th") +
           cell("Stock", stock_name(roll).empty() ? std::string() : name(stock_name(roll))) + cell("Rated", rating_words(roll)) +
           cell("Session", session_link(page, roll)) + cell("Base + fog, density", swatch(roll) + " " + densities(roll.base, 2, false)) +
           cell("Slope, density per log10 H", slopes(roll.film.model, false)) + cell("Exposure, stops", offsets_median(sorted_offsets(page, roll))) +
           cell("Shadows lost", percent(roll.film.verdict.shadow_lost_percent) + " %") + cell("Backing left", residue) + cell("Bath", bath_line(page, roll)) +
           cell("Findings", found.empty() ? "none" : finding_links(page, found)) + "</tr>\n";
}

/// What the page's tools sort and filter a roll by. The same on its verdict, its row and its film, which are sorted together.
std::string roll_keys(const Page& page, int index) {
    const RollRecord& roll = page.record.rolls[static_cast<std::size_t>(index)];
    const auto found = findings_where(page, [&](const Where& where) { return where.roll == roll.roll.id && !where.roll.empty(); });
    const std::optional<double> rating = roll.roll.rating ? roll.roll.rating : roll.facts.rating;
    std::string keys = key("of", "rolls") + key("id", roll_anchor(index)) + key("name", roll.roll.id) + key("stock", stock_name(roll)) +
                       key("verdict", name_of(roll.film.verdict.outcome)) + key("grade", name_of(roll.worst_residue));
    if (rating) keys += key("rated", *rating);
    if (roll.session && roll.session->date) keys += key("session", to_string(*roll.session->date));
    if (roll.rolls_done_before) keys += key("bath", *roll.rolls_done_before);
    keys += key("base", roll.base.g.value.value()) + key("slope", roll.film.model.slope.g.value) + key("exposure", median_of(sorted_offsets(page, roll))) +
            key("shadows", roll.film.verdict.shadow_lost_percent);
    // The grade goes first: a veil can make a grade with hardly any area.
    return keys + key("backing", 1000.0 * level(roll.worst_residue) + roll.residue_area_percent) + key("findings", static_cast<double>(found.size()));
}

Tools roll_tools(const Page& page) {
    Tools tools{"rolls", "rolls", {{"verdict", "Verdict", {}}, {"grade", "Backing left", {}}, {"stock", "Stock", {}}}, {}};
    std::vector<std::string> stocks;
    const auto add = [](std::vector<std::pair<std::string, std::string>>& choices, std::string_view value, std::string_view words) {
        for (const auto& choice : choices)
            if (choice.first == value) return;
        choices.emplace_back(value, words);
    };
    for (const RollRecord& roll : page.record.rolls) {
        add(tools.filters[0].choices, name_of(roll.film.verdict.outcome), headline(roll.film.verdict.outcome));
        add(tools.filters[1].choices, name_of(roll.worst_residue), words(roll.worst_residue));
        stocks.push_back(stock_name(roll));
    }
    tools.filters[2].choices = choices_of(stocks);
    tools.sorts = {{"", "order of the scans"},
                   {"name", "name"},
                   {"stock", "stock"},
                   {"rated", "rating"},
                   {"session", "session"},
                   {"base", "base + fog, green"},
                   {"slope", "slope, green"},
                   {"exposure", "exposure"},
                   {"shadows", "shadows lost"},
                   {"backing", "backing left"},
                   {"bath", "rolls before it in the bath"},
                   {"findings", "number of findings"}};
    return tools;
}

std::string balance_words(const FilmModel& model) {
    if (model.silver) return {};
    constexpr const char* kNames[] = {"red", "green", "blue"};
    std::string text;
    for (int i = 0; i < 3; ++i)
        text += fmt::format("<span class=\"c\"><abbr title=\"{}\">{}</abbr> {}</span> ", kNames[i], "RGB"[i],
                            with_uncertainty(with_sign(to_stops(model.balance[i]).value(), 2), to_stops(LogExposure(model.balance_std[i])).value(), 2));
    return text + "stop";
}

/// "frames 7, 8, 9: red +0.70, blue -1.00 stop against the roll's light (what this rests on)".
std::string other_light_words(const Page& page, const RollRecord& roll, const OtherLight& light) {
    std::string frames;
    for (const int index : light.frames)
        if (index >= 0 && index < static_cast<int>(roll.frames.size()))
            if (const FrameRecord* frame = find_frame(page.record, roll.frames[static_cast<std::size_t>(index)]))
                frames += (frames.empty() ? "" : ", ") + std::to_string(frame->number);
    if (frames.empty()) return {};
    return fmt::format("frame{} {}: red {}, blue {} stop against the roll&#39;s light ({})", light.frames.size() == 1 ? "" : "s", frames,
                       with_sign(to_stops(light.shift.r - light.shift.g).value(), 2), with_sign(to_stops(light.shift.b - light.shift.g).value(), 2),
                       escape(light.basis));
}

std::string expiry_words(const RollRecord& roll) {
    if (!roll.facts.years_past_expiry || !std::isfinite(*roll.facts.years_past_expiry)) return {};
    const double years = *roll.facts.years_past_expiry;
    return years <= 0 ? std::string("not reached") : fixed(years, years < 9.5 ? 1 : 0) + " years past (shown only; nothing is derived from it)";
}

std::string grain_table(const RollRecord& roll) {
    if (roll.film.grain.empty()) return {};
    std::string html =
        "<details><summary>Grain</summary>\n<div class=\"scroll\"><table><caption>Noise of a 0.1 mm spot, density, and RMS granularity in a 48 &#181;m "
        "aperture (density x 1000), by density above base; measured in flat parts</caption>\n<thead><tr><th scope=\"col\">Above base R, G, B</th><th "
        "scope=\"col\">Noise R, G, B</th><th scope=\"col\">Granularity R, G, B</th></tr></thead>\n<tbody>\n";
    for (const GrainPoint& p : roll.film.grain)
        html += fmt::format("<tr><th scope=\"row\">{}, {}, {}</th><td>{}, {}, {}</td><td>{}, {}, {}</td></tr>\n", fixed(p.density.r, 2), fixed(p.density.g, 2),
                            fixed(p.density.b, 2), fixed(p.spot_noise.r, 4), fixed(p.spot_noise.g, 4), fixed(p.spot_noise.b, 4), fixed(p.granularity.r, 1),
                            fixed(p.granularity.g, 1), fixed(p.granularity.b, 1));
    return html + "</tbody></table></div></details>\n";
}

/// "EI 180 ± 0.4 stop".
std::string index_words(const RollSpeed& speed) {
    if (!speed.effective_index || !std::isfinite(*speed.effective_index)) return {};
    return fmt::format("EI {:.0f} &#177; {} stop", *speed.effective_index, fixed(speed.effective_index_std.value(), 1));
}

std::string film_article(const Page& page, int index) {
    const RollRecord& roll = page.record.rolls[static_cast<std::size_t>(index)];
    const FilmModel& model = roll.film.model;
    std::string html = fmt::format("<article class=\"film\" id=\"{}\"{}>\n<h3>Roll {}</h3>\n<div class=\"film-grid\">\n", roll_anchor(index),
                                   roll_keys(page, index), name(roll.roll.id));
    html += "<div>\n" + characteristic_plot(page, index);
    if (const std::string plot = what_if_plot(roll.film.verdict.what_if, what_if_top(roll.film.verdict.what_if), "the roll"); !plot.empty())
        html += "<h4>Had the roll been exposed differently</h4>\n" + plot;
    html += "</div>\n<div>\n<dl class=\"facts\">\n";
    html += item("Stock", stock_name(roll).empty() ? "not told" : name(stock_name(roll))) + item("Rated", rating_words(roll));
    html += item("Date on the box", expiry_words(roll));
    html += item("Base + fog", swatch(roll) + " " + densities(roll.base, 3, true));
    html += item("Base noise, 0.1 mm spot", fmt::format("{}, {}, {}", fixed(roll.spot_noise.r, 4), fixed(roll.spot_noise.g, 4), fixed(roll.spot_noise.b, 4)));
    html += item("Slope", slopes(model, true) + " density per log10 H") + item("Neutral balance", balance_words(model));
    for (const OtherLight& light : roll.film.other_lights) html += item("Other light", other_light_words(page, roll, light));
    html += item("Effective speed", index_words(roll.film.speed));
    if (roll.silver_image) html += item("Image", "silver: one layer, no mask");
    html += item("Contact sheet", file_link(roll.contact_sheet, "open"));
    html += item("Note", roll.roll.note.empty() ? std::string() : name(roll.roll.note)) + "</dl>\n";
    constexpr const char* kParts[] = {"Unmixing", "Curves", "Balance", "Scale"};
    std::string basis;
    for (std::size_t i = 0; i < 4; ++i) basis += item(kParts[i], escape(model.basis[i]));
    if (!basis.empty()) html += "<h4>What this rests on</h4>\n<dl class=\"facts\">\n" + basis + "</dl>\n";
    return html + grain_table(roll) + "</div>\n</div>\n</article>\n";
}

}  // namespace

std::string failures_section(const Page& page) {
    std::string list;
    for (std::size_t i = 0; i < page.record.scans.size(); ++i) {
        const ScanRecord& scan = page.record.scans[i];
        if (!scan.failure) continue;
        list += fmt::format("<li id=\"{}\"><strong>{}</strong>: {}.{}</li>\n", scan_anchor(static_cast<int>(i)), name(scan.file), escape(scan.failure->what),
                            scan.failure->hint.empty() ? "" : " <em>What to do:</em> " + escape(scan.failure->hint) + ".");
    }
    if (list.empty()) return {};
    return "<section id=\"failures\" class=\"failures\" aria-labelledby=\"h-failures\">\n<h2 id=\"h-failures\">Scans that could not be used</h2>\n<ul>\n" +
           list + "</ul>\n<p>The others went on; nothing below counts these.</p>\n</section>\n";
}

std::string verdicts_section(const Page& page) {
    std::string html = "<section id=\"verdicts\" aria-labelledby=\"h-verdicts\">\n<h2 id=\"h-verdicts\">Verdicts</h2>\n";
    if (page.record.rolls.empty()) return html + "<p>No roll was measured.</p>\n</section>\n";
    html += tools_bar(roll_tools(page)) + "<div class=\"cards\">\n";
    bool any_residue = false;
    for (std::size_t i = 0; i < page.record.rolls.size(); ++i) {
        html += verdict_card(page, static_cast<int>(i));
        any_residue |= page.record.rolls[i].worst_residue != ResidueGrade::clean;
    }
    return html + "</div>\n" + (any_residue ? cautions() : std::string()) + "</section>\n";
}

std::string roll_table_section(const Page& page) {
    std::string html = "<section id=\"rolls\" aria-labelledby=\"h-rolls\">\n<h2 id=\"h-rolls\">Rolls</h2>\n";
    if (page.record.rolls.empty()) return html + "<p>None.</p>\n</section>\n";
    html +=
        "<table class=\"stack\" role=\"table\">\n<caption>Every roll of this run. R, G, B: red, green, blue. A star marks a slope that was assumed or not "
        "wholly measured. Exposure: the middle frame against the stock&#39;s aim, and the range.</caption>\n<thead role=\"rowgroup\"><tr role=\"row\">";
    constexpr std::pair<const char*, const char*> kColumns[] = {{"name", "Roll"},
                                                                {"stock", "Stock"},
                                                                {"rated", "Rated"},
                                                                {"session", "Session"},
                                                                {"base", "Base + fog, density"},
                                                                {"slope", "Slope, density per log10 H"},
                                                                {"exposure", "Exposure, stops"},
                                                                {"shadows", "Shadows lost"},
                                                                {"backing", "Backing left"},
                                                                {"bath", "Bath"},
                                                                {"findings", "Findings"}};
    for (const auto& [sort, column] : kColumns)
        html += fmt::format("<th scope=\"col\" role=\"columnheader\" data-sort=\"{}\" data-tools-of=\"rolls\">{}</th>", sort, column);
    html += "</tr></thead>\n<tbody role=\"rowgroup\">\n";
    for (std::size_t i = 0; i < page.record.rolls.size(); ++i) html += roll_row(page, static_cast<int>(i));
    return html + "</tbody>\n</table>\n</section>\n";
}

std::string film_section(const Page& page) {
    std::string html = "<section id=\"film\" aria-labelledby=\"h-film\">\n<h2 id=\"h-film\">Film</h2>\n";
    if (page.record.rolls.empty()) return html + "<p>None.</p>\n</section>\n";
    html +=
        "<p class=\"caption\">The plots: each layer&#39;s density for a neutral grey in the light of the roll. A tick under the field is a frame, at the "
        "exposure its "
        "middle grey got; a bar under that, from its darkest tones to its brightest, thick where they are lost. The arrow leads to where box speed would have "
        "put the middle frame. The dark band along the bottom is twice the noise of a 0.1 mm spot of base. In the hatched field on the left a grey cannot be "
        "told "
        "from "
        "base; in the one on the right a third of a stop can no longer be told.</p>\n";
    html += "<div>\n";
    for (std::size_t i = 0; i < page.record.rolls.size(); ++i) html += film_article(page, static_cast<int>(i));
    return html + "</div>\n</section>\n";
}

}  // namespace basefog::report
