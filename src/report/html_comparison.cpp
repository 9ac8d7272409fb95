// SPDX-License-Identifier: GPL-3.0-or-later
// A stock's rolls side by side.
#include "report/page.h"
#include "report/text.h"

#include <fmt/format.h>

#include <cmath>

namespace basefog::report {
namespace {

std::string cell(std::string_view label, const std::string& content) {
    return fmt::format("<td role=\"cell\" data-label=\"{}\"><span>{}</span></td>", label, content.empty() ? "&#8211;" : content);
}

template <class T>
std::string three(const Rgb<T>& values, int digits) {
    const auto plain_value = [](const auto& v) {
        if constexpr (requires { v.value.value(); })
            return v.value.value();
        else if constexpr (requires { v.value; })
            return v.value;
        else
            return v;
    };
    return fmt::format("{} {} {}", fixed(plain_value(values.r), digits), fixed(plain_value(values.g), digits), fixed(plain_value(values.b), digits));
}

std::string grain_words(const RollComparison& r) {
    std::string text = "base " + three(r.granularity, 0);
    if (r.granularity_at_1.g > 0) text += "; at 1.0 " + three(r.granularity_at_1, 0);
    return text;
}

std::string row(const Page& page, const RollComparison& r) {
    const auto index = find_roll(page.record, r.roll);
    const std::string roll = index ? link(roll_anchor(*index), name(r.roll)) : name(r.roll);
    const std::string rated = r.rating ? "EI " + short_number(*r.rating) + (r.box_speed ? ", box " + short_number(*r.box_speed) : "") : std::string();
    const std::string index_text =
        r.speed.effective_index ? fmt::format("{:.0f} &#177; {} stop", *r.speed.effective_index, fixed(r.speed.effective_index_std.value(), 1)) : std::string();
    return fmt::format("<tr role=\"row\"><th scope=\"row\" role=\"rowheader\" data-label=\"Roll\"><span>{}</span></th>", roll) + cell("Stock", name(r.stock)) +
           cell("Rated", rated) + cell("Base + fog", three(r.base, 3)) + cell("Fog above the clearest", three(r.fog, 3)) +
           cell("Slope", with_uncertainty(three(r.slope, 2), r.slope.g.std_uncertainty, 2)) +
           cell("Crossover R/G, B/G", with_uncertainty(fixed(r.red_to_green.value, 2), r.red_to_green.std_uncertainty, 2) + ", " +
                                          with_uncertainty(fixed(r.blue_to_green.value, 2), r.blue_to_green.std_uncertainty, 2)) +
           cell("Granularity", grain_words(r)) +
           cell("Slower by, stops", with_uncertainty(with_sign(r.speed.loss.value.value(), 2), r.speed.loss.std_uncertainty.value(), 2)) +
           cell("Effective EI", index_text) + cell("Shadows lost", percent(r.shadow_lost_percent) + " %") + "</tr>\n";
}

}  // namespace

std::string comparisons_section(const Page& page) {
    if (page.record.comparisons.empty()) return {};
    std::string html = "<section id=\"comparisons\" aria-labelledby=\"h-comparisons\">\n<h2 id=\"h-comparisons\">Rolls side by side</h2>\n";
    for (const StockComparison& c : page.record.comparisons) {
        html += fmt::format("<h3>{}{}</h3>\n<p>{}</p>\n", c.name.empty() ? "Stock not told" : name(c.name), c.process.empty() ? "" : ", " + name(c.process),
                            escape(c.text));
        html += fmt::format(
            "<table class=\"stack\" role=\"table\">\n<caption>Least fogged first. Three numbers are red, green, blue. Granularity: RMS in a 48 &#181;m "
            "aperture, "
            "density x 1000. Slower: against the mean of these rolls. Effective EI: by the pictures and the rating.</caption>\n<thead role=\"rowgroup\"><tr "
            "role=\"row\">");
        for (const char* column : {"Roll", "Stock", "Rated", "Base + fog", "Fog above the clearest", "Slope", "Crossover R/G, B/G", "Granularity",
                                   "Slower by, stops", "Effective EI", "Shadows lost"})
            html += fmt::format("<th scope=\"col\" role=\"columnheader\">{}</th>", column);
        html += "</tr></thead>\n<tbody role=\"rowgroup\">\n";
        for (const RollComparison& r : c.rolls) html += row(page, r);
        html += "</tbody>\n</table>\n";
    }
    return html + "</section>\n";
}

}  // namespace basefog::report
