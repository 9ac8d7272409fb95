// SPDX-License-Identifier: GPL-3.0-or-later
// The two kinds of plot, in SVG. Curves are told apart by colour, dash and label, never by colour alone.
#include "report/page.h"
#include "report/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace basefog::report {
namespace {

// Chosen: a drawing that is still readable at 340 px on a phone, where the style sheet enlarges its letters.
constexpr double kWidth = 520, kHeight = 392;
constexpr double kLeft = 46, kRight = 60, kTop = 44, kBottom = 304;  // of the field of curves; kRight is a margin
constexpr double kRugBottom = 346;
constexpr double kShadowSigma = 2.0;      // Defined by the report's contract: lost below 2 sigma of a 0.1 mm spot
constexpr double kVanishingSlope = 0.25;  // Chosen: on the shoulder, where a quarter of the straight line's slope is left
constexpr double kLowestStop = -14, kHighestStop = 16;
constexpr int kSteps = 120;  // Chosen: segments of a curve, under 4 px each

struct Axes {
    double x0 = -6, x1 = 8, y1 = 2.5;
    [[nodiscard]] double x(double stops) const { return kLeft + (stops - x0) / (x1 - x0) * (kWidth - kRight - kLeft); }
    [[nodiscard]] double y(double density) const { return kBottom - density / y1 * (kBottom - kTop); }
};

/// A layer's density for a neutral grey, in the roll's light, this many stops from the stock's aim.
double density_at(const FilmModel& model, int layer, double stops) {
    const double d = model.curves[layer].at(to_log_exposure(Stops(stops)) + model.balance[layer]).value();
    return std::isfinite(d) ? d : 0;
}

int layer_count(const FilmModel& model) { return model.silver ? 1 : 3; }

double stops_of(LogExposure h) {
    const double stops = to_stops(h).value();
    return std::isfinite(stops) ? std::clamp(stops, kLowestStop, kHighestStop) : 0;
}

std::vector<std::pair<int, double>> frame_offsets(const RunRecord& record, const RollRecord& roll) {
    std::vector<std::pair<int, double>> offsets;
    for (const FrameRef& ref : roll.frames) {
        const FrameRecord* frame = find_frame(record, ref);
        if (frame == nullptr || !has_exposure(*frame)) continue;
        const double stops = frame->exposure.offset.value.value();
        if (std::isfinite(stops)) offsets.emplace_back(frame->number, std::clamp(stops, kLowestStop, kHighestStop));
    }
    std::sort(offsets.begin(), offsets.end(), [](const auto& a, const auto& b) { return a.second < b.second; });
    return offsets;
}

Axes axes_for(const FilmModel& model, const std::vector<std::pair<int, double>>& offsets) {
    double low = 0, high = 0;
    for (int i = 0; i < layer_count(model); ++i) {
        low = std::min(low, stops_of(model.curves[i].toe - model.balance[i]) - 2);
        high = std::max(high, stops_of(model.curves[i].shoulder - model.balance[i]) + 2);
    }
    if (!offsets.empty()) {
        low = std::min(low, offsets.front().second - 1);
        high = std::max(high, offsets.back().second + 1);
    }
    Axes axes{std::floor(low), std::ceil(high), 0};
    double most = 1;
    for (int i = 0; i < layer_count(model); ++i) most = std::max(most, density_at(model, i, axes.x1));
    axes.y1 = std::min(std::ceil(most / 0.5 + 0.15) * 0.5, kMaxDensity);
    return axes;
}

/// Where a rising function passes a level, by halving; the nearer end when it does not.
template <class Function>
double crossing(Function f, double level, double low, double high) {
    for (int i = 0; i < 60; ++i) {
        const double middle = (low + high) / 2;
        (f(middle) < level ? low : high) = middle;
    }
    return (low + high) / 2;
}

/// Below this exposure no layer stands out from base.
double shadow_end(const FilmModel& model, const Rgb<double>& noise, const Axes& axes) {
    double end = axes.x1;
    for (int i = 0; i < layer_count(model); ++i) {
        const double floor = kShadowSigma * (std::isfinite(noise[i]) ? std::max(noise[i], 0.0) : 0.0);
        end = std::min(end, crossing([&](double s) { return density_at(model, i, s); }, floor, kLowestStop, kHighestStop));
    }
    return std::clamp(end, axes.x0, axes.x1);
}

/// Above this exposure every layer is on its shoulder.
double highlight_start(const FilmModel& model, const Axes& axes) {
    constexpr double kStep = 0.05;  // stops, for the slope
    double start = axes.x0;
    for (int i = 0; i < layer_count(model); ++i) {
        const double straight = model.curves[i].slope * kLog10Of2;
        const double shoulder = stops_of(model.curves[i].shoulder - model.balance[i]);
        const auto flatness = [&](double s) { return -(density_at(model, i, s + kStep) - density_at(model, i, s - kStep)) / (2 * kStep); };
        start = std::max(start, crossing(flatness, -kVanishingSlope * straight, shoulder - 2, kHighestStop + 4));
    }
    return std::clamp(start, axes.x0, axes.x1);
}

std::string line(double x0, double y0, double x1, double y1, std::string_view css) {
    return fmt::format("<line class=\"{}\" x1=\"{}\" y1=\"{}\" x2=\"{}\" y2=\"{}\"/>\n", css, svg_number(x0), svg_number(y0), svg_number(x1), svg_number(y1));
}

std::string text(double x, double y, std::string_view css, std::string_view content) {
    return fmt::format("<text class=\"{}\" x=\"{}\" y=\"{}\">{}</text>\n", css, svg_number(x), svg_number(y), content);
}

std::string rect(double x0, double y0, double x1, double y1, std::string_view css) {
    return fmt::format("<rect class=\"{}\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\"/>\n", css, svg_number(x0), svg_number(y0),
                       svg_number(std::max(0.0, x1 - x0)), svg_number(std::max(0.0, y1 - y0)));
}

std::string grid(const Axes& axes) {
    std::string svg;
    const int step = axes.x1 - axes.x0 > 14 ? 2 : 1;
    for (int s = static_cast<int>(axes.x0); s <= static_cast<int>(axes.x1); ++s) {
        if (s % step != 0) continue;
        svg += line(axes.x(s), kTop, axes.x(s), kBottom, s == 0 ? "axis zero" : "grid");
        svg += text(axes.x(s), kRugBottom + 15, "tick tx", s == 0 ? "aim" : with_sign(s, 0));
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
    svg += text((kLeft + kWidth - kRight) / 2, kHeight - 8, "label mid", "exposure of a neutral grey, stops from the stock&#39;s aim");
    svg += text((kLeft + kWidth - kRight) / 2, 14, "label mid", "the same, log10 H");
    return svg + fmt::format("<text class=\"label mid\" transform=\"translate(13 {}) rotate(-90)\">density above base + fog</text>\n",
                             svg_number((kTop + kBottom) / 2));
}

std::string zones(const RollRecord& roll, const Axes& axes) {
    const FilmModel& model = roll.film.model;
    double noise = 0;
    for (int i = 0; i < layer_count(model); ++i)
        if (std::isfinite(roll.spot_noise[i])) noise = std::max(noise, roll.spot_noise[i]);
    const double shadow = axes.x(shadow_end(model, roll.spot_noise, axes)), highlight = axes.x(highlight_start(model, axes));
    std::string svg = rect(kLeft, kTop, shadow, kBottom, "zone shadow") + rect(highlight, kTop, kWidth - kRight, kBottom, "zone highlight");
    svg += rect(kLeft, axes.y(std::min(kShadowSigma * noise, axes.y1)), kWidth - kRight, kBottom, "floor");
    constexpr double kRoomForWords = 70;
    if (shadow - kLeft > kRoomForWords) svg += text(kLeft + 6, kTop + 16, "note", "shadows lost");
    if (kWidth - kRight - highlight > kRoomForWords) svg += text(kWidth - kRight - 6, kBottom - 26, "note end", "highlights lost");
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

/// One tick per frame where its middle grey falls; numbers where there is room, on two lines.
std::string rug(const std::vector<std::pair<int, double>>& offsets, const Axes& axes) {
    std::string svg = rect(kLeft, kBottom, kWidth - kRight, kRugBottom, "rug");
    std::array<double, 2> free_from{kLeft - 20, kLeft - 20};
    for (const auto& [number, stops] : offsets) {
        const double x = axes.x(stops);
        const std::string label = fmt::format("{}", number);
        const double half = 4.2 * static_cast<double>(label.size()) + 1.5;
        const int row = x - half >= free_from[0] ? 0 : x - half >= free_from[1] ? 1 : -1;
        svg +=
            fmt::format("<g><title>frame {}: {} stops</title>\n{}", number, with_sign(stops, 2), line(x, kBottom, x, kBottom + (row == 1 ? 24 : 10), "frame"));
        if (row >= 0) {
            svg += text(x, kBottom + 21 + 14 * row, "rugnum", label);
            free_from[static_cast<std::size_t>(row)] = x + half;
            if (row == 1) free_from[0] = std::max(free_from[0], x + 2);
        }
        svg += "</g>\n";
    }
    return svg + text(kWidth - kRight + 4, kBottom + 21, "note", "frames");
}

}  // namespace

std::string characteristic_plot(const Page& page, const RollRecord& roll) {
    const auto offsets = frame_offsets(page.record, roll);
    const Axes axes = axes_for(roll.film.model, offsets);
    std::string svg = fmt::format(
        "<figure class=\"plot\">\n<svg viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Characteristic curves of roll {}: density above base and fog "
        "against exposure, with {} marked\">\n",
        svg_number(kWidth), svg_number(kHeight), escape(roll.roll.id), counted(static_cast<long long>(offsets.size()), "frame", "frames"));
    svg += zones(roll, axes) + grid(axes) + curves(roll.film.model, axes) + rug(offsets, axes) + "</svg>\n";
    svg +=
        "<figcaption>Each layer&#39;s density for a neutral grey in the light of the roll. A tick is a frame: where its middle grey fell. The band along the "
        "bottom is "
        "noise of the base (2 sigma of a 0.1 mm spot); hatched left of it no layer stands out from base, hatched right all are on the shoulder, with under a "
        "quarter of their slope left.</figcaption>\n</figure>\n";
    return svg;
}

double what_if_top(const RunRecord& record, const RollRecord& roll) {
    double most = 0;
    for (const FrameRef& ref : roll.frames)
        if (const FrameRecord* frame = find_frame(record, ref); frame != nullptr && has_exposure(*frame))
            for (const WhatIf& w : frame->exposure.what_if)
                for (const double v : {w.shadow_lost_percent, w.highlight_lost_percent})
                    if (std::isfinite(v)) most = std::max(most, v);
    for (const double top : {5.0, 10.0, 20.0, 50.0})
        if (most <= top) return top;
    return 100;
}

std::string what_if_plot(const std::vector<WhatIf>& what_if, double top_percent) {
    std::vector<WhatIf> points;
    for (const WhatIf& w : what_if)
        if (std::isfinite(w.stops.value()) && std::isfinite(w.shadow_lost_percent) && std::isfinite(w.highlight_lost_percent)) points.push_back(w);
    if (points.size() < 2 || points.back().stops.value() <= points.front().stops.value()) return {};
    constexpr double kW = 300, kH = 128, kL = 40, kR = 10, kT = 12, kB = 94;
    const double first = points.front().stops.value(), last = points.back().stops.value();
    const auto px = [&](double stops) { return kL + (stops - first) / (last - first) * (kW - kL - kR); };
    const auto py = [&](double v) { return kB - std::clamp(v / top_percent, 0.0, 1.0) * (kB - kT); };
    std::string svg = fmt::format(
        "<svg class=\"whatif\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Shadows and highlights lost, percent, had the frame had {} to {} stops\">\n",
        svg_number(kW), svg_number(kH), with_sign(first, 0), with_sign(last, 0));
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
    svg += fmt::format("<polyline class=\"lost dark\" points=\"{}\"/>\n<polyline class=\"lost light\" points=\"{}\"/>\n", shadow, highlight);
    return svg + text((kL + kW - kR) / 2, kH - 4, "label mid", "stops more or less") + "</svg>\n";
}

}  // namespace basefog::report
