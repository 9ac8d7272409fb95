// SPDX-License-Identifier: GPL-3.0-or-later
// A card for each frame: the proof, its numbers, what more or less exposure would have done, the way to its session.
#include "report/names.h"
#include "report/page.h"
#include "report/text.h"
#include "report/words.h"

#include <fmt/format.h>

#include <cmath>
#include <utility>

namespace basefog::report {
namespace {

std::string thumbnail(const Page& page, const FrameRecord& frame, const std::string& roll) {
    if (frame.thumbnail_jpeg.empty()) {
        const char* why = frame.box.kind == FrameKind::blank    ? "blank: nothing was exposed"
                          : frame.box.kind == FrameKind::fogged ? "fogged all over"
                                                                : "no proof was made";
        return fmt::format("<div class=\"no-picture\">{}</div>\n", why);
    }
    const std::string image = fmt::format("<img src=\"data:image/jpeg;base64,{}\" alt=\"Roll {}, frame {}, as a positive\" loading=\"lazy\"/>",
                                          embedded(page, frame.thumbnail_jpeg), escape(roll), frame.number);
    return frame.proof.empty() ? image + "\n" : fmt::format("<a href=\"{}\">{}</a>\n", link_to(frame.proof), image);
}

std::string flagged(const std::string& text, MeasureFlag flags) {
    const std::string flag_words = words(flags);
    return flag_words.empty() ? text : text + " <span class=\"dim\">(" + flag_words + ")</span>";
}

std::string exposure_items(const FrameExposure& e) {
    const auto share = [](const Measured<double>& m) { return flagged(percent_with_uncertainty(m.value, m.std_uncertainty) + " %", m.flags); };
    return item("Exposure", flagged(with_uncertainty(with_sign(e.offset.value.value(), 2), e.offset.std_uncertainty.value(), 2) + " stop", e.offset.flags)) +
           item("Shadows lost", share(e.shadow_lost_percent)) + item("Highlights lost", share(e.highlight_lost_percent));
}

std::string session_words(const Page& page, const RollRecord& roll) {
    const std::string id = !roll.roll.session.empty() || !roll.session ? roll.roll.session : roll.session->id;
    if (id.empty()) return "not told";
    std::string text = link(session_anchor(page, id), name(id));
    if (!roll.roll.tank.empty()) text += ", " + name(roll.roll.tank);
    if (roll.roll.reel) text += fmt::format(", reel {}", *roll.roll.reel);
    if (roll.rolls_done_before) text += ", " + counted(*roll.rolls_done_before, "roll", "rolls") + " before it in the bath";
    return text;
}

std::string marks(const FrameBox& box) {
    std::string html;
    if (box.kind != FrameKind::picture) html += fmt::format("<span class=\"chip\">{}</span> ", name_of(box.kind));
    if (box.placed_by_pitch) html += "<span class=\"chip\">placed by pitch</span> ";
    if (box.by_hand) html += "<span class=\"chip\">placed by hand</span> ";
    return html;
}

/// What the page's tools sort and filter a frame by.
std::string frame_keys(const Page& page, const RollRecord& roll, const FrameRef& ref, const std::vector<std::size_t>& found) {
    const FrameRecord& frame = *find_frame(page.record, ref);
    std::string keys = key("of", "frames") + key("id", frame_anchor(ref)) + key("name", roll.roll.id) + key("number", frame.number) +
                       key("kind", name_of(frame.box.kind)) + key("backing", frame.residue_area_percent) + key("sure", frame.box.confidence);
    if (const auto index = find_roll(page.record, roll.roll.id)) keys += key("roll", roll_anchor(*index));
    if (has_exposure(frame))
        keys += key("exposure", frame.exposure.offset.value.value()) + key("shadows", frame.exposure.shadow_lost_percent.value) +
                key("highlights", frame.exposure.highlight_lost_percent.value);
    std::string severity = "none";
    if (!found.empty()) severity = heading(page.findings[found.front()].severity);  // serious ones come first
    return keys + key("worst", severity);
}

Tools frame_tools(const Page& page) {
    Tools tools{"frames", "frames", {{"roll", "Roll", {}}, {"kind", "Kind", {}}, {"worst", "Findings", {}}}, {}};
    for (std::size_t i = 0; i < page.record.rolls.size(); ++i)
        tools.filters[0].choices.emplace_back(roll_anchor(static_cast<int>(i)), page.record.rolls[i].roll.id);
    tools.filters[1].choices = {{"picture", "pictures"}, {"blank", "blank"}, {"fogged", "fogged"}};
    tools.filters[2].choices = {{"Serious", "serious"}, {"Caution", "caution"}, {"Note", "note"}, {"none", "none"}};
    tools.sorts = {{"", "roll and number"},           {"exposure", "exposure"},    {"shadows", "shadows lost"},
                   {"highlights", "highlights lost"}, {"backing", "backing left"}, {"sure", "confidence in the edges"}};
    return tools;
}

std::string defects_overlay(const Page& page, const FrameRecord& frame) {
    if (frame.defects_png.empty()) return {};
    return fmt::format(
        "<img class=\"defects\" src=\"data:image/png;base64,{}\" alt=\"Backing, dust and scratches found on the frame\" loading=\"lazy\" hidden=\"hidden\"/>\n",
        embedded(page, frame.defects_png));
}

std::string frame_card(const Page& page, const RollRecord& roll, const FrameRef& ref, double what_if_scale, double density_end) {
    const FrameRecord& frame = *find_frame(page.record, ref);
    const StripRecord& strip = *find_strip(page.record, ref);
    const std::string& scan = page.record.scans[static_cast<std::size_t>(ref.scan)].file;
    const auto found = findings_where(page, [&](const Where& w) { return w.scan == scan && w.strip == ref.strip && w.frame == ref.frame; });
    std::string html = fmt::format("<article class=\"frame-card\" id=\"{}\"{}>\n{}{}<div class=\"body\">\n<h4>{} <span class=\"dim\">frame</span> {} {}</h4>\n",
                                   frame_anchor(ref), frame_keys(page, roll, ref, found), thumbnail(page, frame, roll.roll.id), defects_overlay(page, frame),
                                   name(roll.roll.id), frame.number, marks(frame.box));
    if (!found.empty()) html += "<p>" + finding_links(page, found) + "</p>\n";
    html += "<dl class=\"facts\">\n";
    if (has_exposure(frame)) html += exposure_items(frame.exposure);
    html += item("Backing left", percent(frame.residue_area_percent) + " % of the frame");
    html += item("Base + fog", densities(strip.base.base, 2, false));
    html += item("Edges", fmt::format("&#177; {} mm, confidence {}", fixed(frame.box.edge_std.value(), 2), fixed(frame.box.confidence, 2)));
    html += item("Session", session_words(page, roll));
    html += item("Where", fmt::format("{}, strip {}", link(scan_anchor(ref.scan), name(scan)), ref.strip + 1));
    const std::string proof = file_link(frame.proof, "proof"), positive = file_link(frame.positive, "positive");
    const std::string files = proof.empty() || positive.empty() ? proof + positive : proof + ", " + positive;
    if (!files.empty()) html += "<div class=\"files\"><dt>Files</dt><dd>" + files + "</dd></div>\n";
    html += "</dl>\n";
    if (has_exposure(frame)) html += what_if_plot(frame.exposure.what_if, what_if_scale, "the frame");
    if (const std::string histogram = histogram_plot(frame, roll.silver_image, density_end); !histogram.empty())
        html += "<details class=\"densities\"><summary>Densities</summary>\n" + histogram + "</details>\n";
    return html + "</div>\n</article>\n";
}

/// Frames of strips whose roll the record does not list: shown all the same.
bool frames_of_roll(const Page& page, const RollRecord& roll, double density_end, const Emit& emit) {
    const double scale = what_if_top(page.record, roll);
    bool any = false;
    for (const FrameRef& ref : roll.frames) {
        if (find_frame(page.record, ref) == nullptr) continue;
        if (!std::exchange(any, true))
            emit("<details open=\"open\" class=\"roll-frames\">\n<summary><h3>Roll " + name(roll.roll.id) + "</h3></summary>\n<div class=\"frame-grid\">\n");
        emit(frame_card(page, roll, ref, scale, density_end));
    }
    if (any) emit("</div>\n</details>\n");
    return any;
}

}  // namespace

void frames_section(const Page& page, const Emit& emit) {
    std::string html = "<section id=\"frames\" aria-labelledby=\"h-frames\">\n<h2 id=\"h-frames\">Frames</h2>\n";
    html +=
        "<p class=\"caption\">The small plots: <svg class=\"key\" viewBox=\"0 0 30 10\" aria-hidden=\"true\"><polyline class=\"lost dark\" points=\"1,5 "
        "29,5\"/></svg> solid, "
        "shadows lost; <svg class=\"key\" viewBox=\"0 0 30 10\" aria-hidden=\"true\"><polyline class=\"lost light\" points=\"1,5 29,5\"/></svg> dashed, "
        "highlights lost, in "
        "percent of the picture, had the frame been given more or less exposure. A line that leaves at the top goes on beyond it.</p>\n";
    emit(html + tools_bar(frame_tools(page)));
    const double density_end = histogram_end(page.record);
    bool any = false;
    for (const RollRecord& roll : page.record.rolls) any |= frames_of_roll(page, roll, density_end, emit);
    emit(std::string(any ? "<div class=\"frame-grid\" data-flat=\"frames\" hidden=\"hidden\"></div>\n" : "<p>No frame was found.</p>\n") + "</section>\n");
}

}  // namespace basefog::report
