// SPDX-License-Identifier: GPL-3.0-or-later
// The two kinds of plot, in SVG. Curves are told apart by colour, dash and label, never by colour alone.
#include "basefog/film/options.h"
#include "report/limits.h"
#include "report/page.h"
#include "report/svg.h"
#include "report/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace basefog::report {
namespace {

using svg::line, svg::rect, svg::text;

// Chosen: a drawing that is still readable at 340 px on a phone, where the style sheet enlarges its letters.
constexpr double kWidth = 460;
constexpr double kLeft = 46, kRight = 66, kTop = 44, kBottom = 292;  // of the field of curves; kRight is a margin
constexpr double kRugBottom = 338;
constexpr double kBarPitch = 7, kLabels = 46;  // of the bars under the rug, and what the labels below take
constexpr int kSteps = 120;                    // Chosen: segments of a curve, under 4 px each

struct Axes {
    double x0 = -6, x1 = 8, y1 = 2.5;
    double bottom = kRugBottom;  ///< of everything that shares the exposures' axis
    [[nodiscard]] double x(double stops) const { return kLeft + (stops - x0) / (x1 - x0) * (kWidth - kRight - kLeft); }
    [[nodiscard]] double y(double density) const { return kBottom - density / y1 * (kBottom - kTop); }
};

double stops_of(LogExposure h) {
    const double stops = to_stops(h).value();
    return std::isfinite(stops) ? std::clamp(stops, kLowestStop, kHighestStop) : 0;
}

/// Where a frame's middle grey falls.
struct Tick {
    int number = 0;
    double stops = 0;
    std::string anchor;
};

std::vector<Tick> frame_offsets(const RunRecord& record, const RollRecord& roll) {
    std::vector<Tick> offsets;
    for (const FrameRef& ref : roll.frames) {
        const FrameRecord* frame = find_frame(record, ref);
        if (frame == nullptr || !has_exposure(*frame)) continue;
        const double stops = frame->exposure.offset.value.value();
        if (std::isfinite(stops)) offsets.push_back({frame->number, std::clamp(stops, kLowestStop, kHighestStop), frame_anchor(ref)});
    }
    std::sort(offsets.begin(), offsets.end(), [](const Tick& a, const Tick& b) { return a.stops < b.stops; });
    return offsets;
}

/// A picture's tones: from where 2 % are darker to where 2 % are brighter, stops.
struct Tones {
    int number = 0;
    double darkest = 0, brightest = 0, shadow_lost = 0, highlight_lost = 0;
    std::string anchor;
};
std::vector<Tones> frame_tones(const RunRecord& record, const RollRecord& roll) {
    std::vector<Tones> tones;
    for (const FrameRef& ref : roll.frames) {
        const FrameRecord* frame = find_frame(record, ref);
        if (frame == nullptr || !has_exposure(*frame)) continue;
        const FrameExposure& e = frame->exposure;
        const double low = stops_of(e.darkest), high = stops_of(e.brightest);
        if (std::isfinite(to_stops(e.darkest).value()) && low < high)
            tones.push_back({frame->number, low, high, e.shadow_lost_percent.value, e.highlight_lost_percent.value, frame_anchor(ref)});
    }
    return tones;
}

Axes axes_for(const FilmModel& model, const std::vector<Tick>& offsets, std::size_t bars) {
    double low = 0, high = 0;
    for (int i = 0; i < layer_count(model); ++i) {
        low = std::min(low, stops_of(model.curves[i].toe - model.balance[i]) - 2);
        high = std::max(high, stops_of(model.curves[i].shoulder - model.balance[i]) + 2);
    }
    if (!offsets.empty()) {
        low = std::min(low, offsets.front().stops - 1);
        high = std::max(high, offsets.back().stops + 1);
    }
    Axes axes{std::floor(low), std::ceil(high), 0, kRugBottom + kBarPitch * static_cast<double>(bars) + (bars > 0 ? 4 : 0)};
    double most = 1;
    for (int i = 0; i < layer_count(model); ++i) most = std::max(most, density_at(model, i, axes.x1));
    axes.y1 = std::min(std::ceil(most / 0.5 + 0.15) * 0.5, kMaxDensity);
    return axes;
}

std::string grid(const Axes& axes) {
    std::string svg;
    const int step = axes.x1 - axes.x0 > 10 ? 2 : 1;
    for (int s = static_cast<int>(axes.x0); s <= static_cast<int>(axes.x1); ++s) {
        if (s % step != 0) continue;
        svg += line(axes.x(s), kTop, axes.x(s), kBottom, s == 0 ? "axis zero" : "grid");
        svg += text(axes.x(s), axes.bottom + 15, "tick tx", s == 0 ? "aim" : with_sign(s, 0));
    }
    const double lowest = std::ceil(to_log_exposure(Stops(axes.x0)).value()), highest = to_log_exposure(Stops(axes.x1)).value();
    for (double h = lowest; h <= highest; h += 1) {
        svg += line(axes.x(to_stops(LogExposure(h)).value()), kTop - 4, axes.x(to_stops(LogExposure(h)).value()), kTop, "axis");
        svg += text(axes.x(to_stops(LogExposure(h)).value()), kTop - 8, "tick th", fixed(h, 0));
    }
    const int halves = static_cast<int>(std::lround(axes.y1 / 0.5));
    for (int i = 0; i <= halves; ++i) {
        svg += line(kLeft, axes.y(i * 0.5), kWidth - kRight, axes.y(i * 0.5), i == 0 ? "axis" : "grid");
        svg += text(kLeft - 6, axes.y(i * 0.5) + 4, "tick ty", fixed(i * 0.5, 1));
    }
    svg += text((kLeft + kWidth - kRight) / 2, axes.bottom + kLabels - 8, "label mid", "exposure of a neutral grey, stops from the stock&#39;s aim");
    svg += text((kLeft + kWidth - kRight) / 2, 14, "label mid", "the same, log10 H");
    return svg + fmt::format("<text class=\"label mid\" transform=\"translate(13 {}) rotate(-90)\">density above base + fog</text>\n",
                             svg_number((kTop + kBottom) / 2));
}

std::string hatch_pattern(const std::string& id) {
    return fmt::format(
        "<defs><pattern id=\"{}\" width=\"6\" height=\"6\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\"><rect class=\"zone\" "
        "width=\"6\" height=\"6\"/><path class=\"zone-line\" d=\"M0 0H6\"/></pattern></defs>\n",
        id);
}

std::string zone(double x0, double x1, std::string_view kind, const std::string& hatch) {
    if (x1 <= x0) return {};
    return fmt::format("<rect class=\"{}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" fill=\"url(#{})\"/>\n", kind, svg_number(x0), svg_number(kTop),
                       svg_number(x1 - x0), svg_number(kBottom - kTop), hatch);
}

std::string zones(const RollRecord& roll, const Axes& axes, const std::string& hatch) {
    const FilmModel& model = roll.film.model;
    double noise = 0;
    for (int i = 0; i < layer_count(model); ++i)
        if (std::isfinite(roll.spot_noise[i])) noise = std::max(noise, roll.spot_noise[i]);
    const Limits limits = limits_of(roll);
    const double shadow = axes.x(std::clamp(limits.shadow, axes.x0, axes.x1)), highlight = axes.x(std::clamp(limits.highlight, axes.x0, axes.x1));
    std::string svg = hatch_pattern(hatch) + zone(kLeft, shadow, "shadow", hatch) + zone(highlight, kWidth - kRight, "highlight", hatch);
    svg += rect(kLeft, axes.y(std::min(kShadowSigma * noise, axes.y1)), kWidth - kRight, kBottom, "floor");
    const auto along = [](double x0, double x1, const char* words) {
        constexpr double kRoomForWords = 22;
        if (x1 - x0 < kRoomForWords) return std::string();
        return fmt::format("<text class=\"note mid\" transform=\"translate({} {}) rotate(-90)\">{}</text>\n", svg_number((x0 + x1) / 2 + 4),
                           svg_number(kTop + 0.6 * (kBottom - kTop)), words);
    };
    svg += along(kLeft, shadow, "shadows lost") + along(highlight, kWidth - kRight, "highlights lost");
    return svg;
}

constexpr std::array<const char*, 3> kLayerClass{"red", "green", "blue"};

std::string curves(const FilmModel& model, const Axes& axes) {
    std::string svg;
    std::array<std::pair<double, int>, 3> ends{};  // y where the label goes, layer
    const int layers = layer_count(model);
    for (int i = 0; i < layers; ++i) {
        std::string points;
        for (int k = 0; k <= kSteps; ++k) {
            const double stops = axes.x0 + (axes.x1 - axes.x0) * k / kSteps;
            points += fmt::format("{}{},{}", k == 0 ? "" : " ", svg_number(axes.x(stops)), svg_number(axes.y(density_at(model, i, stops))));
        }
        const char* css = model.silver ? "silver" : kLayerClass[static_cast<std::size_t>(i)];
        svg += fmt::format("<polyline class=\"curve {}\" points=\"{}\"/>\n", css, points);
        ends[static_cast<std::size_t>(i)] = {axes.y(density_at(model, i, axes.x1)), i};
    }
    std::sort(ends.begin(), ends.begin() + layers);
    constexpr double kLineHeight = 17;
    for (int k = 0; k < layers; ++k) {
        auto& [y, layer] = ends[static_cast<std::size_t>(k)];
        if (k > 0) y = std::max(y, ends[static_cast<std::size_t>(k) - 1].first + kLineHeight);
        const char* css = model.silver ? "silver" : kLayerClass[static_cast<std::size_t>(layer)];
        svg += line(kWidth - kRight + 3, y, kWidth - kRight + 17, y, fmt::format("curve {}", css));
        svg += text(kWidth - kRight + 20, y + 4, fmt::format("name {}", css), css);
    }
    return svg;
}

/// Places for labels of one row: as near to their ticks as a spacing allows. The mean of pushing all to the right and all
/// to the left keeps the spacing and favours neither side.
std::vector<double> spread(const std::vector<double>& wanted, double spacing) {
    std::vector<double> right = wanted, left = wanted;
    for (std::size_t i = 1; i < right.size(); ++i) right[i] = std::max(right[i], right[i - 1] + spacing);
    for (std::size_t i = left.size(); i-- > 1;) left[i - 1] = std::min(left[i - 1], left[i] - spacing);
    for (std::size_t i = 0; i < right.size(); ++i) right[i] = (right[i] + left[i]) / 2;
    return right;
}

/// Where an exposure meets the curves: shown when its frame is looked at by itself.
std::string place(const FilmModel& model, double stops, const Axes& axes) {
    std::string svg = "<g class=\"place\">" + line(axes.x(stops), kTop, axes.x(stops), kBottom, "place-line");
    for (int i = 0; i < layer_count(model); ++i)
        svg += fmt::format("<circle class=\"place-dot\" cx=\"{}\" cy=\"{}\" r=\"4\"/>", svg_number(axes.x(stops)),
                           svg_number(axes.y(std::min(density_at(model, i, stops), axes.y1))));
    return svg + "</g>\n";
}

/// One tick per frame where its middle grey falls, and the frame's number under it while there is room: on one row, or on two in turn.
std::string rug(const FilmModel& model, const std::vector<Tick>& offsets, const Axes& axes) {
    constexpr double kSpacing = 17, kTick = 9;
    constexpr std::size_t kOneRow = 9, kTwoRows = 40;
    const std::size_t rows = offsets.size() <= kOneRow ? 1 : 2;
    std::array<std::vector<double>, 2> places;
    for (std::size_t i = 0; i < offsets.size(); ++i) places[i % rows].push_back(axes.x(offsets[i].stops));
    for (std::vector<double>& row : places) row = spread(row, kSpacing);
    std::string svg = rect(kLeft, kBottom, kWidth - kRight, kRugBottom, "rug");
    for (std::size_t i = 0; i < offsets.size(); ++i) {
        const auto& [number, stops, anchor] = offsets[i];
        svg += fmt::format("<g data-frame=\"{}\"><title>frame {}: {} stops</title>\n{}{}", anchor, number, with_sign(stops, 2),
                           line(axes.x(stops), kBottom, axes.x(stops), kBottom + kTick, "frame"), place(model, stops, axes));
        if (offsets.size() <= kTwoRows) {
            const double x = places[i % rows][i / rows], y = kBottom + 26 + 15 * static_cast<double>(i % rows);
            svg += line(axes.x(stops), kBottom + kTick, x, y - 11, "lead") + text(x, y, "rugnum", fmt::format("{}", number));
        }
        svg += "</g>\n";
    }
    return svg + text(kWidth - kRight + 4, kBottom + 26, "note", "frames");
}

/// A bar per picture, by number: from its darkest tones to its brightest; thick and dark where they lie in a losing zone.
std::string bars(const std::vector<Tones>& tones, const RollRecord& roll, const Axes& axes) {
    const Limits limits = limits_of(roll);
    constexpr double kSeen = 0.5;  // percent of the picture; less is not marked
    std::string svg;
    double y = kRugBottom + kBarPitch / 2 + 2;
    const auto x = [&](double stops) { return axes.x(std::clamp(stops, axes.x0, axes.x1)); };
    for (const Tones& t : tones) {
        svg +=
            fmt::format("<g data-frame=\"{}\"><title>frame {}: tones from {} to {} stops; {} % of its area lost in the base, {} % on the shoulder</title>\n{}",
                        t.anchor, t.number, with_sign(t.darkest, 1), with_sign(t.brightest, 1), percent(t.shadow_lost), percent(t.highlight_lost),
                        line(x(t.darkest), y, x(t.brightest), y, "tones"));
        if (t.shadow_lost >= kSeen && t.darkest < limits.shadow) svg += line(x(t.darkest), y, x(std::min(limits.shadow, t.brightest)), y, "tones-lost");
        if (t.highlight_lost >= kSeen && t.brightest > limits.highlight)
            svg += line(x(std::max(limits.highlight, t.darkest)), y, x(t.brightest), y, "tones-lost");
        svg += "</g>\n";
        y += kBarPitch;
    }
    if (!tones.empty()) svg += text(kWidth - kRight + 4, kRugBottom + 13, "note", "tones");
    return svg;
}

/// Where the middle frame would have lain at box speed.
std::string box_arrow(const RollRecord& roll, const std::vector<Tick>& offsets, const Axes& axes) {
    constexpr double kLeastStops = 0.17;  // a third of a stop is a camera's dial
    const auto& over = roll.film.verdict.rated_over;
    if (!over || !(over->value() > kLeastStops) || offsets.empty()) return {};
    const double here = offsets[offsets.size() / 2].stops, there = here - over->value();
    if (there < axes.x0 || here > axes.x1) return {};
    const double y = kBottom - 12, x0 = axes.x(here), x1 = axes.x(there);
    return fmt::format("<g class=\"arrow\"><title>the middle frame, and where box speed would have put it</title>\n{}<path d=\"M{} {}l6 -4v8z\"/></g>\n",
                       line(x0, y, x1, y, "arrow-line"), svg_number(x1), svg_number(y)) +
           text((x0 + x1) / 2, y - 5, "note mid", "box speed");
}

std::string base_note(const RollRecord& roll) {
    return text(kLeft + 5, kTop + 14, "note",
                roll.film.model.silver ? fmt::format("base + fog {}", fixed(roll.base.g.value.value(), 2))
                                       : fmt::format("base + fog {} / {} / {}", fixed(roll.base.r.value.value(), 2), fixed(roll.base.g.value.value(), 2),
                                                     fixed(roll.base.b.value.value(), 2)));
}

}  // namespace

std::string characteristic_plot(const Page& page, int index) {
    const RollRecord& roll = page.record.rolls[static_cast<std::size_t>(index)];
    const auto offsets = frame_offsets(page.record, roll);
    const std::vector<Tones> tones = frame_tones(page.record, roll);
    const Axes axes = axes_for(roll.film.model, offsets, tones.size());
    std::string svg = fmt::format(
        "<figure class=\"plot\">\n<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Characteristic curves of roll {}: density above base and fog "
        "against exposure, with {} marked\">\n",
        svg_number(kWidth), svg_number(axes.bottom + kLabels), escape(roll.roll.id), counted(static_cast<long long>(offsets.size()), "frame", "frames"));
    svg += zones(roll, axes, fmt::format("zone-{}", index + 1)) + grid(axes) + curves(roll.film.model, axes) + box_arrow(roll, offsets, axes) +
           rug(roll.film.model, offsets, axes) + base_note(roll) + bars(tones, roll, axes) + "</svg>\n";
    svg += "</figure>\n";
    return svg;
}

double what_if_top(const std::vector<WhatIf>& what_if) {
    double most = 0;
    for (const WhatIf& w : what_if)
        for (const double v : {w.shadow_lost_percent, w.highlight_lost_percent})
            if (std::isfinite(v)) most = std::max(most, v);
    for (const double top : {5.0, 10.0, 20.0})
        if (most <= top) return top;
    return 40;  // Chosen: what is lost beyond this is lost anyway, and the smaller shares stay readable; lines leave at the top
}

double what_if_top(const RunRecord& record, const RollRecord& roll) {
    double top = what_if_top(std::vector<WhatIf>());
    for (const FrameRef& ref : roll.frames)
        if (const FrameRecord* frame = find_frame(record, ref); frame != nullptr && has_exposure(*frame))
            top = std::max(top, what_if_top(frame->exposure.what_if));
    return top;
}

std::string what_if_plot(const std::vector<WhatIf>& what_if, double top_percent, const std::string& of) {
    std::vector<WhatIf> points;
    for (const WhatIf& w : what_if)
        if (std::isfinite(w.stops.value()) && std::isfinite(w.shadow_lost_percent) && std::isfinite(w.highlight_lost_percent)) points.push_back(w);
    if (points.size() < 2 || points.back().stops.value() <= points.front().stops.value()) return {};
    constexpr double kW = 300, kH = 140, kL = 40, kR = 10, kT = 26, kB = 106;
    const double first = points.front().stops.value(), last = points.back().stops.value();
    const auto px = [&](double stops) { return kL + (stops - first) / (last - first) * (kW - kL - kR); };
    const auto py = [&](double v) { return kB - v / top_percent * (kB - kT); };
    std::string svg = fmt::format(
        "<svg class=\"whatif\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Shadows and highlights lost, percent, had {} had {} to {} stops\">\n",
        svg_number(kW), svg_number(kH), of, with_sign(first, 0), with_sign(last, 0));
    for (const double share : {0.0, 0.5, 1.0}) {
        svg += line(kL, py(share * top_percent), kW - kR, py(share * top_percent), share == 0 ? "axis" : "grid");
        svg += text(kL - 4, py(share * top_percent) + 4, "tick ty", short_number(share * top_percent) + "%");
    }
    for (int s = static_cast<int>(std::ceil(first)); s <= static_cast<int>(std::floor(last)); ++s) {
        if (s == 0) svg += line(px(s), kT, px(s), kB, "axis zero");
        svg += text(px(s), kB + 15, "tick tx", s == 0 ? "as shot" : with_sign(s, 0));
    }
    std::string shadow, highlight;
    for (const WhatIf& w : points) {
        shadow += fmt::format("{},{} ", svg_number(px(w.stops.value())), svg_number(py(w.shadow_lost_percent)));
        highlight += fmt::format("{},{} ", svg_number(px(w.stops.value())), svg_number(py(w.highlight_lost_percent)));
    }
    shadow.pop_back();
    highlight.pop_back();
    // An inner <svg> cuts what lies outside it: lines leave at the top.
    svg += fmt::format(
        "<svg x=\"{0}\" y=\"{1}\" width=\"{2}\" height=\"{3}\" viewBox=\"{0} {1} {2} {3}\"><polyline class=\"lost dark\" points=\"{4}\"/>"
        "<polyline class=\"lost light\" points=\"{5}\"/></svg>\n",
        kL, kT - 2, kW - kL - kR, kB - kT + 4, shadow, highlight);
    svg += line(kL + 4, kT - 15, kL + 22, kT - 15, "lost dark") + text(kL + 27, kT - 11, "note", "shadows lost");
    svg += line(kW - kR - 102, kT - 15, kW - kR - 84, kT - 15, "lost light") + text(kW - kR - 79, kT - 11, "note", "highlights lost");
    return svg + text((kL + kW - kR) / 2, kH - 4, "label mid", "stops more or less") + "</svg>\n";
}

}  // namespace basefog::report
