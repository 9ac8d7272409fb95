// SPDX-License-Identifier: GPL-3.0-or-later
// Each sheet as scanned, with its strips and frames drawn on it and the leftover backing laid over it.
#include "report/names.h"
#include "report/page.h"
#include "report/text.h"
#include "report/words.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace basefog::report {
namespace {

// Chosen: under it a frame's crop deserves a look. The share of frames so marked that are wrong is for the frames stage to calibrate.
constexpr double kLowConfidence = 0.9;
constexpr double kPi = 3.14159265358979323846;

std::string points(const Quad& quad) {
    std::string list;
    for (const PointPx& p : quad) list += fmt::format("{}{},{}", list.empty() ? "" : " ", svg_number(p.x, 1), svg_number(p.y, 1));
    return list;
}

/// A blank frame's edges cannot be seen, and nothing is lost with them.
bool unsure(const FrameBox& box) { return box.kind == FrameKind::picture && box.confidence < kLowConfidence; }

std::string frame_words(const FrameRecord& frame) {
    std::string words = fmt::format("frame {}", frame.number);
    if (frame.box.kind != FrameKind::picture) words += fmt::format(", {}", name_of(frame.box.kind));
    if (frame.box.placed_by_pitch) words += ", placed by pitch";
    if (frame.box.by_hand) words += ", placed by hand";
    if (unsure(frame.box)) words += ", uncertain: confidence " + fixed(frame.box.confidence, 2);
    return words;
}

std::string frame_shape(const FrameRecord& frame, const FrameRef& ref, const std::string& hatch) {
    const FrameBox& box = frame.box;
    std::string css = std::string(name_of(box.kind)) + (box.placed_by_pitch ? " pitch" : "") + (unsure(box) ? " unsure" : "");
    const std::string fill = box.kind == FrameKind::picture ? "" : fmt::format(" style=\"fill:url(#{}-{})\"", hatch, name_of(box.kind));
    const PointPx middle = centre(box.corners);
    std::string label = fmt::format("{}{}", frame.number, unsure(box) ? " ?" : "");
    if (box.kind != FrameKind::picture)
        label += fmt::format("<tspan class=\"kind\" x=\"{}\" dy=\"1em\">{}</tspan>", svg_number(middle.x, 1), name_of(box.kind));
    const std::string shape = points(box.corners);
    return fmt::format(
        "<a href=\"#{0}\" class=\"frame {1}\"><title>{2}</title><polygon class=\"halo\" points=\"{3}\"/><polygon class=\"edge\" points=\"{3}\"{4}/>"
        "<text x=\"{5}\" y=\"{6}\">{7}</text></a>\n",
        frame_anchor(ref), css, frame_words(frame), shape, fill, svg_number(middle.x, 1), svg_number(middle.y, 1), label);
}

/// In the rebate above the first frame, along the strip.
std::string strip_label(const StripRecord& strip, std::size_t index) {
    const Quad& q = strip.box.corners;
    const PointPx start = inside(q, 0.015, 0.085), along = q[1] - q[0];
    constexpr std::size_t kLongest = 24;  // Chosen: characters of a name that fit along two frames
    return fmt::format("<text class=\"strip-name\" transform=\"translate({} {}) rotate({})\">strip {}, {}</text>\n", svg_number(start.x, 1),
                       svg_number(start.y, 1), svg_number(std::atan2(along.y, along.x) * 180 / kPi), index + 1, escape(shortened(strip.roll, kLongest)));
}

std::string strip_shapes(const ScanRecord& scan, int scan_index, const std::string& hatch) {
    std::string svg;
    for (std::size_t s = 0; s < scan.strips.size(); ++s) {
        const StripRecord& strip = scan.strips[s];
        svg += fmt::format("<polygon class=\"halo\" points=\"{0}\"/><polygon class=\"strip\" points=\"{0}\"><title>strip {1}, roll {2}</title></polygon>\n",
                           points(strip.box.corners), s + 1, escape(strip.roll));
        for (std::size_t f = 0; f < strip.frames.size(); ++f)
            svg += frame_shape(strip.frames[f], {scan_index, static_cast<int>(s), static_cast<int>(f)}, hatch);
        svg += strip_label(strip, s);
    }
    return svg;
}

std::string picture(const Page& page, std::string_view css, std::string_view type, const KeptBytes& bytes, const ScanInfo& info, const std::string& id = {}) {
    if (bytes.empty()) return {};
    return fmt::format("<image{} class=\"{}\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" href=\"data:image/{};base64,{}\"/>\n",
                       id.empty() ? id : " id=\"" + id + "\"", css, info.width, info.height, type, embedded(page, bytes));
}

/// Line patterns for frames without a picture; their size in millimetres of film.
std::string hatches(const std::string& id, double px_per_mm) {
    const std::string step = svg_number(3 * px_per_mm), width = svg_number(0.6 * px_per_mm);
    return fmt::format(
        "<defs><pattern id=\"{0}-blank\" width=\"{1}\" height=\"{1}\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><path class=\"hatch\" "
        "d=\"M0 0H{1}\" "
        "stroke-width=\"{2}\"/></pattern><pattern id=\"{0}-fogged\" width=\"{1}\" height=\"{1}\" patternUnits=\"userSpaceOnUse\" "
        "patternTransform=\"rotate(45)\"><path "
        "class=\"hatch\" d=\"M0 0H{1}M0 0V{1}\" stroke-width=\"{2}\"/></pattern></defs>\n",
        id, step, width);
}

/// Id of a sheet's picture, which findings show parts of.
std::string scan_picture(int index) { return fmt::format("scan-{}", index + 1); }

std::string overview(const Page& page, const ScanRecord& scan, int index) {
    const ScanInfo& info = scan.info;
    if (info.width <= 0 || info.height <= 0) return "<p>The sheet&#39;s size is not known, so it cannot be drawn.</p>\n";
    const double scale = scan.scale.value() > 0 && std::isfinite(scan.scale.value()) ? scan.scale.value() : static_cast<double>(info.width) / 250;
    const std::string id = fmt::format("hatch-{}", index + 1);
    std::string svg =
        fmt::format("<svg class=\"sheet\" viewBox=\"0 0 {} {}\" style=\"--mm:{}\" role=\"group\" aria-label=\"The sheet {} with {} drawn on it\">\n",
                    info.width, info.height, svg_number(scale), svg_number(static_cast<double>(info.width) / static_cast<double>(info.height), 3),
                    escape(scan.file), counted(static_cast<long long>(scan.strips.size()), "strip", "strips"));
    svg += hatches(id, scale) + fmt::format("<rect class=\"glass\" width=\"{}\" height=\"{}\"/>\n", info.width, info.height);
    svg += picture(page, "scan", "jpeg", scan.overview_jpeg, info, scan_picture(index)) + picture(page, "residue-map", "png", scan.residue_png, info);
    return svg + "<g class=\"outlines\">\n" + strip_shapes(scan, index, id) + "</g>\n</svg>\n";
}

/// What a camera noted of a shot, in a photographer's words.
std::string settings_words(const CameraSettings& settings) {
    std::string text = escape(settings.camera);
    const auto add = [&](const std::string& what) { text += (text.empty() ? "" : ", ") + what; };
    constexpr double kShort = 0.3;  // seconds under which shutters are named as fractions
    if (settings.seconds > 0) add(settings.seconds < kShort ? fmt::format("1/{:.0f} s", 1 / settings.seconds) : fmt::format("{:.3g} s", settings.seconds));
    if (settings.f_number > 0) add(fmt::format("f/{:.3g}", settings.f_number));
    if (settings.iso > 0) add(fmt::format("ISO {:.0f}", settings.iso));
    return text;
}

/// Of a camera's shots: what was made of them. Nothing of a flatbed's scans.
std::string shot_facts(const ScanRecord& scan) {
    const ScanInfo& info = scan.info;
    std::string html = item("Camera", settings_words(info.settings));
    if (info.light_divided) html += item("Light frame", "divided out");
    if (info.lens) html += item("Lens", fmt::format("straightened: k1 {}, k2 {}", with_sign(info.lens->k1, 4), with_sign(info.lens->k2, 4)));
    if (!info.other_exposures.empty()) {
        std::string others;
        for (const double exposure : info.other_exposures) others += (others.empty() ? "" : ", ") + with_sign(std::log2(exposure), 2);
        html += item("Merged", fmt::format("with {}: {} stops",
                                           counted(static_cast<long long>(info.other_exposures.size()), "further exposure", "further exposures"), others));
    }
    if (scan.shots.empty()) return html;
    std::string joined;
    for (std::size_t i = 0; i < scan.shots.size(); ++i) {
        const ShotRecord& shot = scan.shots[i];
        joined += (i > 0 ? "; " : "") + name(shot.file);
        if (i > 0) joined += fmt::format(" (shares {} mm, {} mm off)", fixed(shot.overlap.value(), 1), fixed(shot.residual.value(), 3));
    }
    return html + item(fmt::format("Joined from {}", counted(static_cast<long long>(scan.shots.size()), "shot", "shots")), joined);
}

std::string scan_facts(const ScanRecord& scan) {
    const ScanInfo& info = scan.info;
    std::string html = "<dl class=\"facts\">\n";
    html += item("Size", fmt::format("{} &#215; {} px, {} bits", info.width, info.height, info.bits));
    html += item("Resolution", fmt::format("{} dpi, {}", fixed(dpi_from_px_per_mm(scan.scale), 1), words(scan.scale_origin)));
    const std::string profile = info.profile_name.empty() ? std::string() : " (" + name(info.profile_name) + ")";
    html += item("Encoding", escape(describe(info.encoding)) + profile + ", " + std::string(words(info.encoding_origin)));
    html += item("Infrared", info.has_infrared ? name(info.infrared_from.empty() ? "yes" : info.infrared_from) : "none");
    html += shot_facts(scan);
    html += item("Densities", scan.relative_densities ? "relative to the clearest film: no bare light in view" : "relative to bare light");
    html += item("Scanned", info.date.empty() ? std::string() : name(info.date));
    html += item("Defect map", file_link(scan.defect_map, "open"));
    for (const std::string& warning : info.warnings) html += item("Mind", escape(warning));
    return html + "</dl>\n";
}

std::string cell(std::string_view label, const std::string& content, std::string_view tag = "td") {
    const std::string_view role = tag == "th" ? " scope=\"row\" role=\"rowheader\"" : " role=\"cell\"";
    return fmt::format("<{0}{3} data-label=\"{1}\"><span>{2}</span></{0}>", tag, label, content.empty() ? "&#8211;" : content, role);
}

std::string frame_numbers(const StripRecord& strip) {
    if (strip.frames.empty()) return "none";
    const int first = strip.frames.front().number, last = strip.frames.back().number;
    return first == last ? fmt::format("{}", first) : fmt::format("{} to {}", first, last);
}

/// Tilt, and what the print on its edges says.
std::string how_it_lies(const StripBox& box) {
    std::string words = "tilt " + with_sign(box.angle_deg, 1) + "&#176;" + (box.direction == StripDirection::vertical ? ", upright" : "");
    const EdgePrint& print = box.edge_print;
    if (print.kind == EdgePrint::Kind::none) return words;
    if (print.mirrored) words += ", wrong side down";
    if (print.turned) words += ", the other way round";
    return words + fmt::format(" (edge print: {})", escape(print.text));
}

std::string strip_row(const Page& page, const StripRecord& strip, std::size_t index) {
    const StripResidue& residue = strip.residue;
    const auto roll = find_roll(page.record, strip.roll);
    std::string patterns;
    for (const std::string& pattern : residue.patterns) patterns += (patterns.empty() ? "" : ", ") + escape(pattern);
    std::string grade(words(residue.grade));
    if (residue.grade != ResidueGrade::clean)
        grade += fmt::format(", {} %", percent_with_uncertainty(residue.area_percent.value, residue.area_percent.std_uncertainty));
    const std::string veil = residue.veil_separable ? with_uncertainty(fixed(residue.veil.value.value(), 3), residue.veil.std_uncertainty.value(), 3)
                                                    : std::string("cannot be told from base");
    return "<tr role=\"row\">" + cell("Strip", fmt::format("{}", index + 1), "th") +
           cell("Roll, frames", link(roll ? roll_anchor(*roll) : "", name(strip.roll)) + ", " + frame_numbers(strip)) +
           cell("Base + fog, density", densities(strip.base.base, 3, true)) + cell("Backing left", grade) + cell("Its kind", patterns) +
           cell("Veil, density", veil) + cell("Dust and fibres", fmt::format("{}", residue.dust_count)) + cell("How it lies", how_it_lies(strip.box)) +
           "</tr>\n";
}

std::string strip_table(const Page& page, const ScanRecord& scan) {
    if (scan.strips.empty()) return "<p>No strip was found.</p>\n";
    std::string html = "<table class=\"stack\" role=\"table\">\n<caption>Strips in scan order</caption>\n<thead role=\"rowgroup\"><tr role=\"row\">";
    for (const char* column : {"Strip", "Roll, frames", "Base + fog, density", "Backing left", "Its kind", "Veil, density", "Dust and fibres", "How it lies"})
        html += fmt::format("<th scope=\"col\" role=\"columnheader\">{}</th>", column);
    html += "</tr></thead>\n<tbody role=\"rowgroup\">\n";
    for (std::size_t i = 0; i < scan.strips.size(); ++i) html += strip_row(page, scan.strips[i], i);
    return html + "</tbody>\n</table>\n";
}

std::string legend(const ScanRecord& scan) {
    bool empty = false, pitch = false, doubtful = false;
    for (const StripRecord& strip : scan.strips)
        for (const FrameRecord& frame : strip.frames) {
            empty |= frame.box.kind != FrameKind::picture;
            pitch |= frame.box.placed_by_pitch;
            doubtful |= unsure(frame.box);
        }
    std::string text = "Solid outline: an edge was seen.";
    if (pitch) text += " Dashed: placed by pitch from its neighbours.";
    if (empty) text += " Hatched: blank (lines) or fogged (crossed lines).";
    if (doubtful) text += " Heavy outline and a question mark: look at this crop.";
    if (!scan.residue_png.empty()) text += " Laid over in colour: leftover backing.";
    return text;
}

std::string sheet_article(const Page& page, int index) {
    const ScanRecord& scan = page.record.scans[static_cast<std::size_t>(index)];
    const auto found = findings_where(page, [&](const Where& where) { return where.scan == scan.file; });
    std::string html = fmt::format("<article class=\"sheet-view\" id=\"{}\">\n<h3>{}</h3>\n", scan_anchor(index), name(scan.file));
    if (!found.empty()) html += "<p>" + finding_links(page, found) + "</p>\n";
    // The checkboxes toggle by style alone; they must come before the drawing, as siblings of it.
    const double shape = scan.info.height > 0 ? static_cast<double>(scan.info.width) / static_cast<double>(scan.info.height) : 1;
    html += fmt::format("<div class=\"sheet-row\" style=\"--shape:{}\">\n<div class=\"sheet-box\">\n", svg_number(shape, 3));
    const auto toggle = [&](const char* css, const char* label) {
        return fmt::format("<input type=\"checkbox\" class=\"toggle {0}\" id=\"{0}-{1}\" checked=\"checked\"/><label for=\"{0}-{1}\">{2}</label>\n", css,
                           index + 1, label);
    };
    html += toggle("show-outlines", "outlines");
    if (!scan.residue_png.empty()) html += toggle("show-residue", "leftover backing");
    html += overview(page, scan, index) + "<p class=\"caption\">" + legend(scan) + "</p>\n</div>\n" + scan_facts(scan) + "</div>\n";
    return html + strip_table(page, scan) + "</article>\n";
}

}  // namespace

std::string finding_picture(const Page& page, const Where& where) {
    constexpr double kMarginMm = 3;  // Chosen: enough surround to see what an edge was taken from
    for (std::size_t i = 0; i < page.record.scans.size(); ++i) {
        const ScanRecord& scan = page.record.scans[i];
        if (scan.file != where.scan || scan.overview_jpeg.empty() || scan.info.width <= 0) continue;
        if (where.strip < 0 || where.strip >= static_cast<int>(scan.strips.size())) return {};
        const StripRecord& strip = scan.strips[static_cast<std::size_t>(where.strip)];
        const bool frame = where.frame >= 0 && where.frame < static_cast<int>(strip.frames.size());
        const Quad& quad = frame ? strip.frames[static_cast<std::size_t>(where.frame)].box.corners : strip.box.corners;
        const double margin = kMarginMm * scan.scale.value();
        if (!std::isfinite(margin) || !std::all_of(quad.begin(), quad.end(), [](PointPx p) { return std::isfinite(p.x) && std::isfinite(p.y); })) return {};
        const PxRect box = bounds(quad, margin);
        return fmt::format(
            "<svg class=\"crop\" viewBox=\"{} {} {} {}\" style=\"--mm:{}\" role=\"img\" aria-label=\"{} on the sheet, its outline drawn\"><use href=\"#{}\"/>"
            "<polygon class=\"halo\" points=\"{}\"/><polygon class=\"edge\" points=\"{}\"/></svg>\n",
            box.x0, box.y0, box.width(), box.height(), svg_number(scan.scale.value()), frame ? "The frame" : "The strip", scan_picture(static_cast<int>(i)),
            points(quad), points(quad));
    }
    return {};
}

void sheets_section(const Page& page, const Emit& emit) {
    emit("<section id=\"sheets\" aria-labelledby=\"h-sheets\">\n<h2 id=\"h-sheets\">Sheets</h2>\n");
    bool any = false;
    for (std::size_t i = 0; i < page.record.scans.size(); ++i) {
        if (page.record.scans[i].failure) continue;
        emit(sheet_article(page, static_cast<int>(i)));
        any = true;
    }
    emit(std::string(any ? "" : "<p>No sheet was measured.</p>\n") + "</section>\n");
}

}  // namespace basefog::report
