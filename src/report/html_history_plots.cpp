// SPDX-License-Identifier: GPL-3.0-or-later
// Plots of the page of trends, in SVG. Every point is a link to its roll's report. What belongs together is told apart by shape and by
// label as well as by colour.
#include "report/history_page.h"
#include "report/svg.h"
#include "report/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <vector>

namespace basefog::report {
namespace {

using svg::line, svg::text;

// Chosen: a drawing whose letters can still be read at 340 px on a phone, where the style sheet enlarges them.
constexpr double kWidth = 460, kHeight = 268, kLeft = 52, kRight = 62, kTop = 38, kBottom = 216;

struct Scale {
    double low = 0, high = 1, from = 0, to = 1;  // values, places
    [[nodiscard]] double operator()(double v) const { return from + (std::clamp(v, low, high) - low) / (high - low) * (to - from); }
};

/// A round step that gives about `wanted` of them.
double step_for(double span, int wanted) {
    const double raw = std::max(span, 1e-9) / wanted, power = std::pow(10, std::floor(std::log10(raw)));
    for (const double m : {1.0, 2.0, 5.0})
        if (m * power >= raw) return m * power;
    return 10 * power;
}

int digits_for(double step) { return std::max(0, static_cast<int>(std::ceil(-std::log10(step) - 1e-9))); }

enum class Shape { disc, square, triangle };

struct Series {
    TrendLine line;
    const char* css;
    std::string label;
    Shape shape;
};

std::string mark(Shape shape, double x, double y, double size) {
    if (shape == Shape::disc) return fmt::format("<circle cx=\"{}\" cy=\"{}\" r=\"{}\"/>", svg_number(x), svg_number(y), svg_number(size));
    if (shape == Shape::square)
        return fmt::format("<rect x=\"{0}\" y=\"{1}\" width=\"{2}\" height=\"{2}\"/>", svg_number(x - 0.88 * size), svg_number(y - 0.88 * size),
                           svg_number(1.76 * size));
    return fmt::format("<path d=\"M{} {}L{} {}L{} {}Z\"/>", svg_number(x), svg_number(y - 1.25 * size), svg_number(x + 1.12 * size), svg_number(y + 0.8 * size),
                       svg_number(x - 1.12 * size), svg_number(y + 0.8 * size));
}

std::string point(const HistoryPage& page, int roll, const std::string& css, Shape shape, double x, double y, const std::string& value) {
    const HistoryRoll& one = page.trends.rolls[static_cast<std::size_t>(roll)];
    const std::string link = report_link(page, one);
    const std::string title = fmt::format("<title>{}{}{}: {}</title>", escape(one.roll), one.session_date ? ", " + to_string(*one.session_date) : std::string(),
                                          one.stock.empty() ? std::string() : ", " + escape(one.stock), value);
    const std::string shape_text = title + mark(shape, x, y, 3.6);
    if (link.empty()) return fmt::format("<g class=\"dot {}\">{}</g>\n", css, shape_text);
    return fmt::format("<a class=\"dot {}\" href=\"{}\">{}</a>\n", css, link, shape_text);
}

/// The line with the fan of slopes its interval allows.
std::string trend_shape(const TrendLine& trend, const char* css, const Scale& x, const Scale& y) {
    if (!trend.slope) return {};
    double first = trend.points.front().x, last = first;
    for (const TrendPoint& p : trend.points) {
        first = std::min(first, p.x);
        last = std::max(last, p.x);
    }
    const auto at = [&](double slope, double where) { return y(trend.y_middle + slope * (where - trend.x_middle)); };
    std::string svg;
    if (trend.interval)
        svg += fmt::format("<path class=\"fan {}\" d=\"M{} {}L{} {}L{} {}L{} {}Z\"/>\n", css, svg_number(x(first)), svg_number(at(trend.interval->low, first)),
                           svg_number(x(last)), svg_number(at(trend.interval->low, last)), svg_number(x(last)), svg_number(at(trend.interval->high, last)),
                           svg_number(x(first)), svg_number(at(trend.interval->high, first)));
    return svg + line(x(first), at(*trend.slope, first), x(last), at(*trend.slope, last), fmt::format("trend {}{}", css, trend.claimed ? " claimed" : ""));
}

struct Frame {
    std::string title, y_label, x_label, aria;
    bool log_percent = false;
    std::optional<double> capacity;
    double least_span = 0.1;
};

double shown_percent(double log_value) { return std::max(0.0, std::pow(10, log_value) - 0.1); }

std::string y_axis(const Scale& y, const Frame& frame) {
    std::string svg;
    if (frame.log_percent) {
        for (const double percent : {0.0, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0}) {
            const double v = std::log10(percent + 0.1);
            if (v < y.low - 1e-9 || v > y.high + 1e-9) continue;
            svg += line(kLeft, y(v), kWidth - kRight, y(v), "grid") + text(kLeft - 6, y(v) + 4, "tick ty", short_number(percent));
        }
        return svg;
    }
    const double step = step_for(y.high - y.low, 4);
    for (double v = std::ceil(y.low / step - 1e-9) * step; v <= y.high + 1e-9 * step; v += step)
        svg += line(kLeft, y(v), kWidth - kRight, y(v), "grid") + text(kLeft - 6, y(v) + 4, "tick ty", fixed(v, digits_for(step)));
    return svg;
}

std::string axes(const Scale& x, const Scale& y, const Frame& frame) {
    std::string svg = y_axis(y, frame);
    const double step = std::max(1.0, step_for(x.high - x.low, 5));
    for (double v = std::ceil(x.low / step - 1e-9) * step; v <= x.high + 1e-9; v += step)
        svg += line(x(v), kBottom, x(v), kBottom + 4, "axis") + text(x(v), kBottom + 18, "tick tx", fixed(v, 0));
    svg += line(kLeft, kBottom, kWidth - kRight, kBottom, "axis");
    if (frame.capacity && *frame.capacity > x.low && *frame.capacity < x.high)
        svg += line(x(*frame.capacity), kTop, x(*frame.capacity), kBottom, "capacity") + text(x(*frame.capacity), kTop - 3, "note mid", "capacity");
    svg += text(kLeft - 44, 15, "plot-title", frame.title);
    svg += text(kWidth - kRight, 15, "tick end", frame.y_label);
    return svg + text((kLeft + kWidth - kRight) / 2, kHeight - 12, "label mid", frame.x_label);
}

Scale scale_over(const std::vector<Series>& series, bool of_y, double least_span, double from, double to) {
    double low = 1e300, high = -1e300;
    for (const Series& s : series)
        for (const TrendPoint& p : s.line.points) {
            const double v = of_y ? p.y : p.x;
            low = std::min(low, v);
            high = std::max(high, v);
        }
    const double middle = (low + high) / 2, half = std::max(high - low, least_span) / 2;
    const double margin = of_y ? 0.08 * 2 * half : 0.02 * 2 * half + 0.3;
    return {middle - half - margin, middle + half + margin, from, to};
}

std::string labels(const std::vector<Series>& series, const Scale& y) {
    std::vector<std::pair<double, const Series*>> places;
    for (const Series& s : series) {
        double last = s.line.points.front().x;
        for (const TrendPoint& p : s.line.points) last = std::max(last, p.x);
        places.emplace_back(y(s.line.y_middle + s.line.slope.value_or(0) * (last - s.line.x_middle)), &s);
    }
    std::sort(places.begin(), places.end(), [](const auto& a, const auto& b) { return a.first < b.first; });
    std::string svg;
    constexpr double kLineHeight = 16;
    double previous = kTop - kLineHeight;
    for (const auto& [wanted, s] : places) {
        previous = std::max(wanted, previous + kLineHeight);
        svg += fmt::format("<g class=\"dot {}\">{}</g>\n", s->css, mark(s->shape, kWidth - kRight + 10, previous, 3.6));
        svg += text(kWidth - kRight + 18, previous + 4, fmt::format("name {}", s->css), s->label);
    }
    return svg;
}

std::string trend_plot(const HistoryPage& page, const std::vector<Series>& series, const Frame& frame) {
    if (series.empty()) return {};
    const Scale x = scale_over(series, false, 4, kLeft, kWidth - kRight), y = scale_over(series, true, frame.least_span, kBottom, kTop);
    std::string svg = fmt::format("<figure class=\"plot\">\n<svg viewBox=\"0 0 {} {}\" role=\"group\" aria-label=\"{}\">\n", svg_number(kWidth),
                                  svg_number(kHeight), frame.aria);
    svg += axes(x, y, frame);
    for (const Series& s : series) svg += trend_shape(s.line, s.css, x, y);
    for (const Series& s : series)
        for (const TrendPoint& p : s.line.points)
            svg += point(
                page, p.roll, std::string(s.css) + (p.set_aside ? " aside" : ""), s.shape, x(p.x), y(p.y),
                frame.log_percent ? percent(shown_percent(p.y)) + " %" : fmt::format("{} {}", s.label, fixed(p.y, 3)) + (p.set_aside ? ", set aside" : ""));
    if (series.size() > 1) svg += labels(series, y);
    return svg + "</svg>\n</figure>\n";
}

/// Only what can be drawn: a page of half a plot says more than none, and one number that is none must not hang the axes.
TrendLine drawable(TrendLine trend) {
    std::erase_if(trend.points, [](const TrendPoint& p) { return !std::isfinite(p.x) || !std::isfinite(p.y); });
    const bool whole = trend.slope && std::isfinite(*trend.slope) && std::isfinite(trend.x_middle) && std::isfinite(trend.y_middle);
    if (!whole) {
        trend.slope.reset();
        trend.y_middle = trend.points.empty() ? 0 : trend.points.front().y;
    }
    if (trend.interval && !(whole && std::isfinite(trend.interval->low) && std::isfinite(trend.interval->high))) trend.interval.reset();
    return trend;
}

const TrendLine* line_of(const BathTrend& bath, Measure measure, Wear wear) {
    for (const TrendLine& trend : bath.lines)
        if (trend.measure == measure && trend.wear == wear) return &trend;
    return nullptr;
}

/// Values as rise above where the line begins: what changes shows, whatever height the film's mask has.
void count_from_start(TrendLine& trend) {
    double first = trend.points.front().x;
    for (const TrendPoint& p : trend.points) first = std::min(first, p.x);
    const double start = trend.y_middle + trend.slope.value_or(0) * (first - trend.x_middle);
    for (TrendPoint& p : trend.points) p.y -= start;
    trend.y_middle -= start;
}

std::vector<Series> series_of(const BathTrend& bath, Wear wear, const std::vector<std::pair<Measure, Series>>& wanted) {
    std::vector<Series> series;
    for (auto [measure, s] : wanted)
        if (const TrendLine* trend = line_of(bath, measure, wear)) {
            s.line = drawable(*trend);
            if (!s.line.points.empty()) series.push_back(std::move(s));
        }
    return series;
}

}  // namespace

std::string bath_plots(const HistoryPage& page, const BathTrend& bath, Wear wear) {
    Frame frame;
    frame.x_label = wear == Wear::rolls_done ? "rolls done before" : "days since mixing";
    if (wear == Wear::rolls_done && bath.good_for_rolls) frame.capacity = *bath.good_for_rolls;
    const auto plot = [&](const char* title, const char* unit, double span, bool log, const std::vector<Series>& series) {
        frame.title = title;
        frame.y_label = unit;
        frame.least_span = span;
        frame.log_percent = log;
        frame.aria = fmt::format("{} of {} against {}", title, escape(bath.bath), frame.x_label);
        return trend_plot(page, series, frame);
    };
    const Series red{{}, "red", "red", Shape::disc}, green{{}, "green", "green", Shape::square}, blue{{}, "blue", "blue", Shape::triangle},
        ink{{}, "ink", "", Shape::disc};
    std::vector<Series> base = series_of(bath, wear, {{Measure::base_red, red}, {Measure::base_green, green}, {Measure::base_blue, blue}});
    for (Series& series : base) count_from_start(series.line);
    return plot("Base + fog", "rise in density since its first rolls", 0.1, false, base) +
           plot("Slope", "green layer, density per log10 H", 0.1, false, series_of(bath, wear, {{Measure::slope, ink}})) +
           plot("Crossover", "slope of red, of blue over green&#39;s", 0.1, false,
                series_of(bath, wear, {{Measure::crossover_red, red}, {Measure::crossover_blue, blue}})) +
           plot("Backing left", "% of the film", 1, true, series_of(bath, wear, {{Measure::residue, ink}}));
}

std::string habit_plot(const HistoryPage& page, const std::vector<HabitSummary>& habits) {
    if (habits.empty()) return {};
    constexpr double kRow = 64, kFieldLeft = 16, kFieldRight = kWidth - 16, kHead = 26;
    const Scale x{std::log10(0.1), 2, kFieldLeft, kFieldRight};
    const double height = kHead + kRow * static_cast<double>(habits.size()) + 44, bottom = height - 44;
    std::string svg = fmt::format("<figure class=\"plot\">\n<svg viewBox=\"0 0 {} {}\" role=\"group\" aria-label=\"Backing left on each roll, by {}\">\n",
                                  svg_number(kWidth), svg_number(height), habits.front().habit == Habit::wash ? "wash" : "tank");
    for (const double tick : {0.0, 0.3, 1.0, 3.0, 10.0, 30.0, 100.0}) {
        const double v = x(std::log10(tick + 0.1));
        svg += line(v, kHead, v, bottom, "grid") + text(v, bottom + 16, "tick tx", short_number(tick));
    }
    svg += text((kFieldLeft + kFieldRight) / 2, height - 8, "label mid", "backing left, % of the film");
    double top = kHead;
    for (const HabitSummary& habit : habits) {
        svg += text(kFieldLeft, top - 4 + 14, "row-name", escape(shortened(habit.name, 52)));
        for (std::size_t i = 0; i < habit.members.size(); ++i) {
            // Spread over the row by the golden ratio, so that rolls of like value do not cover each other: no meaning, no chance.
            const double offset = std::fmod(0.618034 * static_cast<double>(i + 1), 1.0);
            svg += point(page, habit.members[i], "ink faint", Shape::disc, x(std::log10(habit.area[i] + 0.1)), top + 24 + offset * (kRow - 36),
                         percent(habit.area[i]) + " %");
        }
        const double middle = x(std::log10(habit.residue_percent + 0.1));
        if (habit.residue_interval)
            svg += svg::rect(x(std::log10(habit.residue_interval->low + 0.1)), top + 20, x(std::log10(habit.residue_interval->high + 0.1)), top + kRow - 6,
                             "fan ink");
        svg += line(middle, top + 18, middle, top + kRow - 4, "trend ink claimed");
        top += kRow;
    }
    return svg + "</svg>\n</figure>\n";
}

std::string stock_plot(const HistoryPage& page) {
    std::vector<const StockAge*> rows;
    double low = 1e300, high = -1e300;
    for (const StockAge& age : page.trends.stocks) {
        if (age.points.empty()) continue;
        rows.push_back(&age);
        for (const TrendPoint& p : age.points) {
            if (!(p.y > 0) || !std::isfinite(p.y)) continue;
            low = std::min(low, std::log2(p.y));
            high = std::max(high, std::log2(p.y));
        }
        if (age.box_speed) high = std::max(high, std::log2(*age.box_speed));
    }
    if (rows.empty() || low > high) return {};
    constexpr double kRow = 60, kFieldLeft = 16, kFieldRight = kWidth - 16, kHead = 12;
    const Scale x{std::floor(low - 0.3), std::ceil(high + 0.3), kFieldLeft, kFieldRight};
    const double height = kHead + kRow * static_cast<double>(rows.size()) + 44, bottom = height - 44;
    std::string svg = fmt::format(
        "<figure class=\"plot\">\n<svg viewBox=\"0 0 {} {}\" role=\"group\" aria-label=\"Exposure index each roll would have needed, by stock and age\">\n",
        svg_number(kWidth), svg_number(height));
    // Stops down from 100: 100, 50, 25 and up: the numbers on a meter.
    for (int stop = static_cast<int>(std::ceil(x.low - std::log2(100.0))); stop <= static_cast<int>(std::floor(x.high - std::log2(100.0))); ++stop) {
        const double v = x(std::log2(100.0) + stop);
        svg += line(v, kHead, v, bottom, "grid") + text(v, bottom + 16, "tick tx", short_number(100 * std::exp2(stop)));
    }
    svg += text((kFieldLeft + kFieldRight) / 2, height - 8, "label mid", "exposure index that would just have kept the shadows");
    double top = kHead;
    for (const StockAge* age : rows) {
        const std::string years = age->years ? fmt::format(", {} to {} years past its date", *age->years, *age->years + 5) : std::string();
        svg += text(kFieldLeft, top + 13, "row-name", escape(shortened(age->stock, 24)) + years);
        for (std::size_t i = 0; i < age->points.size(); ++i) {
            const double offset = std::fmod(0.618034 * static_cast<double>(i + 1), 1.0);
            svg += point(page, age->points[i].roll, "ink faint", Shape::disc, x(std::log2(age->points[i].y)), top + 24 + offset * (kRow - 34),
                         "EI " + fixed(age->points[i].y, 0));
        }
        if (age->interval) svg += svg::rect(x(std::log2(age->interval->low)), top + 20, x(std::log2(age->interval->high)), top + kRow - 4, "fan ink");
        if (age->index) svg += line(x(std::log2(*age->index)), top + 18, x(std::log2(*age->index)), top + kRow - 2, "trend ink claimed");
        if (age->box_speed)
            svg += line(x(std::log2(*age->box_speed)), top + 18, x(std::log2(*age->box_speed)), top + kRow - 2, "capacity") +
                   text(x(std::log2(*age->box_speed)) - 4, top + kRow - 8, "note end", "box");
        top += kRow;
    }
    return svg + "</svg>\n</figure>\n";
}

}  // namespace basefog::report
