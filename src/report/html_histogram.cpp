// SPDX-License-Identifier: GPL-3.0-or-later
// How a frame's densities are spread, drawn.
#include "report/page.h"
#include "report/svg.h"
#include "report/text.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>

namespace basefog::report {
namespace {

using Bins = std::array<std::uint32_t, DensityHistogram::kBins>;
constexpr double kWidth = 300, kHeight = 128, kLeft = 40, kRight = 10, kTop = 12, kBottom = 94;

std::uint32_t largest(const Bins& bins) { return *std::max_element(bins.begin(), bins.end()); }

double left_edge(std::size_t bin) { return DensityHistogram::kFirst + DensityHistogram::kStep * static_cast<double>(bin); }

}  // namespace

double histogram_end(const RunRecord& record) {
    std::size_t last = 0;
    for (const ScanRecord& scan : record.scans)
        for (const StripRecord& strip : scan.strips)
            for (const FrameRecord& frame : strip.frames)
                for (int i = 0; i < 3; ++i)
                    for (std::size_t k = last; k < DensityHistogram::kBins; ++k)
                        if (frame.histogram.counts[i][k] > 0) last = k;
    return std::max(0.5, std::ceil(left_edge(last + 1) / 0.5 - 1e-9) * 0.5);
}

std::string histogram_plot(const FrameRecord& frame, bool silver, double last) {
    const DensityHistogram& h = frame.histogram;
    if (h.spots <= 0) return {};
    const int layers = silver ? 1 : 3;
    std::uint32_t most = 1;
    for (int i = 0; i < layers; ++i) most = std::max(most, largest(h.counts[i]));
    const auto px = [&](double d) { return kLeft + (d - DensityHistogram::kFirst) / (last - DensityHistogram::kFirst) * (kWidth - kLeft - kRight); };
    const auto py = [&](std::uint32_t count) { return kBottom - static_cast<double>(count) / most * (kBottom - kTop); };
    std::string svg =
        fmt::format("<svg class=\"histogram\" viewBox=\"0 0 {} {}\" role=\"img\" aria-label=\"Share of frame {} by density above base and fog, {}\">\n",
                    svg_number(kWidth), svg_number(kHeight), frame.number, silver ? "one layer" : "red solid, green dashed, blue dotted");
    svg += svg::line(kLeft, kBottom, kWidth - kRight, kBottom, "axis") + svg::line(px(0), kTop, px(0), kBottom, "axis zero");
    svg += svg::text(kLeft - 4, kTop + 4, "tick ty", percent(100.0 * most / static_cast<double>(h.spots)) + "%") +
           svg::text(kLeft - 4, kBottom + 4, "tick ty", "0%");
    for (double d = 0; d <= last + 1e-9; d += 0.5) svg += svg::text(px(d), kBottom + 15, "tick tx", fixed(d, 1));
    constexpr const char* kCss[] = {"red", "green", "blue"};
    for (int i = 0; i < layers && !silver; ++i) {
        const double y = kTop + 4 + 12 * i;
        svg += svg::line(kWidth - kRight - 52, y, kWidth - kRight - 34, y, fmt::format("curve {}", kCss[i])) +
               svg::text(kWidth - kRight - 30, y + 4, "tick", kCss[i]);
    }
    for (int i = 0; i < layers; ++i) {
        const Bins& bins = h.counts[i];
        const auto filled = [](std::uint32_t count) { return count > 0; };
        const std::size_t first = static_cast<std::size_t>(std::find_if(bins.begin(), bins.end(), filled) - bins.begin());
        const std::size_t end = bins.size() - static_cast<std::size_t>(std::find_if(bins.rbegin(), bins.rend(), filled) - bins.rbegin());
        std::string points = fmt::format("{},{}", svg_number(px(left_edge(first))), svg_number(kBottom));
        for (std::size_t k = first; k < end; ++k)
            points += fmt::format(" {},{}", svg_number(px(left_edge(k) + DensityHistogram::kStep / 2), 1), svg_number(py(bins[k]), 1));
        points += fmt::format(" {},{}", svg_number(px(left_edge(end))), svg_number(kBottom));
        svg += fmt::format("<polyline class=\"curve {}\" points=\"{}\"/>\n", silver ? "silver" : kCss[i], points);
    }
    return svg + svg::text((kLeft + kWidth - kRight) / 2, kHeight - 4, "label mid", "density above base + fog") + "</svg>\n";
}

}  // namespace basefog::report
