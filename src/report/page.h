// SPDX-License-Identifier: GPL-3.0-or-later
// The HTML page's parts. The markup is also well-formed XML but for its scripts' text, so that a strict parser can check it. It can be
// read without script: what opens is a <details>, what toggles is a checkbox. Scripts (page_files/) add sorting, filtering, the large
// view and comparing; what they work on stands in data- attributes.
#pragma once

#include "basefog/core/embedded_file.h"
#include "basefog/report/types.h"
#include "report/gather.h"

#include <functional>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace basefog::report {

struct Page {
    const RunRecord& record;
    std::vector<Finding> findings;  ///< serious ones first
    std::vector<const Session*> sessions;
    std::vector<const Bath*> baths;
    mutable std::optional<Error> unreadable;  ///< the first picture that could not be got back; the page is then not finished
};
/// Takes the page's next piece.
using Emit = std::function<void(std::string_view)>;
/// A picture's bytes as base64.
[[nodiscard]] std::string embedded(const Page& page, const KeptBytes& picture);
[[nodiscard]] Page make_page(const RunRecord& record);

// Anchors count from 1 and hold no names, which may be anything.
[[nodiscard]] std::string roll_anchor(int roll);
[[nodiscard]] std::string scan_anchor(int scan);
[[nodiscard]] std::string frame_anchor(const FrameRef& ref);
[[nodiscard]] std::string finding_anchor(std::size_t finding);
/// Empty when the id is not among the page's.
[[nodiscard]] std::string session_anchor(const Page& page, const std::string& id);
[[nodiscard]] std::string bath_anchor(const Page& page, const std::string& id);

/// A name from outside: escaped, and kept from turning the text around it [HTML, bdi element].
[[nodiscard]] std::string name(std::string_view text);
/// <a href="#anchor">content</a>, or the content alone without an anchor.
[[nodiscard]] std::string link(const std::string& anchor, const std::string& content);
[[nodiscard]] std::string file_link(const std::string& path, std::string_view label);
/// A term and its value for a <dl>; nothing when the value is empty.
[[nodiscard]] std::string item(std::string_view term, const std::string& value);
/// "0.214 0.602 0.893" with the colours named for those who cannot see the order.
[[nodiscard]] std::string densities(const Rgb<Measured<Density>>& base, int digits, bool with_std);
/// "the frame of ...": links to the frame, sheet and roll a finding speaks of.
[[nodiscard]] std::string place_links(const Page& page, const Where& where);
/// The findings' numbers as links; those that `belongs` accepts.
template <class Belongs>
[[nodiscard]] std::vector<std::size_t> findings_where(const Page& page, Belongs belongs) {
    std::vector<std::size_t> found;
    for (std::size_t i = 0; i < page.findings.size(); ++i)
        if (belongs(page.findings[i].where)) found.push_back(i);
    return found;
}
/// The part of the sheet a finding is about, cut from the sheet's own picture; nothing when it names no strip.
[[nodiscard]] std::string finding_picture(const Page& page, const Where& where);
[[nodiscard]] std::string finding_links(const Page& page, const std::vector<std::size_t>& findings);

[[nodiscard]] std::string failures_section(const Page& page);
[[nodiscard]] std::string verdicts_section(const Page& page);
[[nodiscard]] std::string roll_table_section(const Page& page);
[[nodiscard]] std::string comparisons_section(const Page& page);
[[nodiscard]] std::string film_section(const Page& page);
void sheets_section(const Page& page, const Emit& emit);
void frames_section(const Page& page, const Emit& emit);
[[nodiscard]] std::string findings_section(const Page& page);
[[nodiscard]] std::string sessions_section(const Page& page);
[[nodiscard]] std::string settings_section(const Page& page);
[[nodiscard]] std::string glossary_section();

/// Shares of the frame's area by density above base, one line per layer; `last` is the scale's end. Empty without spots.
[[nodiscard]] std::string histogram_plot(const FrameRecord& frame, bool silver, double last);
/// The density that holds all frames of the record, in halves, so that any two histograms can be laid side by side.
[[nodiscard]] double histogram_end(const RunRecord& record);

/// The characteristic plot: each layer's curve for a neutral grey in the roll's light.
[[nodiscard]] std::string characteristic_plot(const Page& page, int roll);
/// Shadows and highlights lost against more or less exposure; `top_percent` is the vertical scale's end, `of` names what was exposed.
[[nodiscard]] std::string what_if_plot(const std::vector<WhatIf>& what_if, double top_percent, const std::string& of);
/// A scale's end that holds the shares: of all frames of a roll, so that they can be compared, or of one list.
[[nodiscard]] double what_if_top(const RunRecord& record, const RollRecord& roll);
[[nodiscard]] double what_if_top(const std::vector<WhatIf>& what_if);

/// A list that can be filtered and sorted: its controls, hidden until a script works them.
struct Filter {
    std::string key, label;
    std::vector<std::pair<std::string, std::string>> choices;  ///< value of the items' data-key, and its words
};
struct Tools {
    std::string of;     ///< what its items name in data-of
    std::string label;  ///< "rolls"
    std::vector<Filter> filters;
    std::vector<std::pair<std::string, std::string>> sorts;  ///< key and words; the first is the order the page is written in
};
[[nodiscard]] std::string tools_bar(const Tools& tools);
/// ` data-key="value"`; text as it is, numbers plain; nothing for what is not finite.
[[nodiscard]] std::string key(std::string_view name, std::string_view text);
[[nodiscard]] std::string key(std::string_view name, double number);
/// The choices a key's values give, each once, in order of first appearance, empty ones left out.
[[nodiscard]] std::vector<std::pair<std::string, std::string>> choices_of(const std::vector<std::string>& values);
/// Where frames and rolls are shown large and side by side; empty until a script fills it.
[[nodiscard]] std::string viewer();

/// A whole page's <head>, with a policy that allows its own styles and scripts by digest and nothing else.
[[nodiscard]] std::string page_head(std::string_view title, std::string_view version, const std::vector<const EmbeddedFile*>& styles);
/// The scripts, for the end of <body>.
[[nodiscard]] std::string page_scripts();

extern const EmbeddedFile kPageCss, kHistoryCss, kCollectionsJs, kViewerJs;

}  // namespace basefog::report
