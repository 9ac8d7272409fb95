// SPDX-License-Identifier: GPL-3.0-or-later
// Controls to filter and sort a list, and the keys its items carry.
#include "report/page.h"
#include "report/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace basefog::report {
namespace {

std::string option(std::string_view value, std::string_view words) { return fmt::format("<option value=\"{}\">{}</option>", escape(value), escape(words)); }

}  // namespace

std::string key(std::string_view name, std::string_view text) { return fmt::format(" data-{}=\"{}\"", name, escape(text)); }

std::string key(std::string_view name, double number) {
    return std::isfinite(number) ? fmt::format(" data-{}=\"{}\"", name, svg_number(number, 4)) : std::string();
}

std::vector<std::pair<std::string, std::string>> choices_of(const std::vector<std::string>& values) {
    std::vector<std::pair<std::string, std::string>> choices;
    for (const std::string& value : values) {
        const bool known = std::any_of(choices.begin(), choices.end(), [&](const auto& c) { return c.first == value; });
        if (!value.empty() && !known) choices.emplace_back(value, value);
    }
    return choices;
}

std::string tools_bar(const Tools& tools) {
    std::string html = fmt::format(
        "<details class=\"finder\" hidden=\"hidden\"><summary>Sort and filter {1}</summary>\n"
        "<div class=\"tools\" data-tools=\"{0}\" data-noun=\"{1}\" role=\"search\" aria-label=\"Sort and filter {1}\">\n"
        "<label>Find <input type=\"search\" name=\"find\" autocomplete=\"off\"/></label>\n",
        tools.of, escape(tools.label));
    for (const Filter& filter : tools.filters) {
        if (filter.choices.size() < 2) continue;
        html += fmt::format("<label>{} <select data-filter=\"{}\" autocomplete=\"off\">{}", filter.label, filter.key, option("", "all"));
        for (const auto& [value, words] : filter.choices) html += option(value, shortened(words, 40));
        html += "</select></label>\n";
    }
    html += "<label>Sort by <select name=\"sort\" autocomplete=\"off\">";
    for (const auto& [value, words] : tools.sorts) html += option(value, words);
    return html +
           "</select></label>\n<label class=\"tick\"><input type=\"checkbox\" name=\"down\" autocomplete=\"off\"/> largest first</label>\n"
           "<button type=\"button\" name=\"reset\">Show all</button>\n<output></output>\n</div>\n</details>\n";
}

}  // namespace basefog::report
