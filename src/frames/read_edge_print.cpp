// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/frames/read_edge_print.h"

#include "edge_code.h"
#include "edge_figures.h"
#include "light.h"

#include <algorithm>
#include <cmath>
#include <opencv2/core.hpp>

namespace basefog {
namespace {

using namespace frames;

/// Chosen: the band outside the perforations, mm from the film's edge: its edge's blur left out, perforations begin at 2.0.
constexpr double kBandFromMm = 0.15, kBandToMm = 1.95;
/// Chosen: rows of it that a machine-readable code is sure to fill.
constexpr double kCodeFromMm = 0.6, kCodeToMm = 1.4;
/// Chosen: samples per mm at most; figures are then 18 to 30 high.
constexpr double kMostPxPerMm = 16;
/// Chosen: less than this, overview pixels per mm, shows no figures.
constexpr double kLeastPxPerMm = 5;
/// Chosen: both edges are in view when the strip is at least this wide, mm.
constexpr double kWholeWidthMm = 34.4, kWidestMm = 36.0;
/// Chosen: base is what most of this length of edge is brighter than; code symbols are shorter.
constexpr double kBaseWindowMm = 40, kBaseShare = 0.8;

/// Log light of one edge's band laid straight, rows from the film's upper side down.
/// `bow`: of the film's edges, as StripBox has it.
cv::Mat read_band(const Overview& overview, const Quad& corners, double length_mm, double width_mm, double bow_mm, bool below, double px_per_mm) {
    const int cols = static_cast<int>((length_mm - 2) * px_per_mm), rows = static_cast<int>((kBandToMm - kBandFromMm) * px_per_mm);
    cv::Mat band(std::max(rows, 1), std::max(cols, 1), CV_32F);
    for (int row = 0; row < band.rows; ++row) {
        const double from_edge = kBandFromMm + (row + 0.5) / px_per_mm;
        const double v = below ? (width_mm - kBandToMm + (from_edge - kBandFromMm)) / width_mm : from_edge / width_mm;
        for (int col = 0; col < band.cols; ++col) {
            const double u = (1 + (col + 0.5) / px_per_mm) / length_mm;
            const double bowed = v + bow_mm * 4 * u * (1 - u) / width_mm;
            band.at<float>(row, col) = -std::log10(std::max(light_at(overview, inside(corners, u, bowed), {1, 1, 1}), 1e-6F));
        }
    }
    return band;
}

/// Density above the band's own base, which may drift along it.
void take_base_off(cv::Mat& band, double px_per_mm) {
    const int half = std::max(1, static_cast<int>(kBaseWindowMm * px_per_mm / 2)), step = std::max(1, half / 4);
    std::vector<double> at, level;
    for (int col = 0; col < band.cols; col += step) {
        std::vector<float> values;
        for (int x = std::max(0, col - half); x < std::min(band.cols, col + half); x += 3)
            for (int y = 0; y < band.rows; ++y) values.push_back(band.at<float>(y, x));
        const auto place = values.begin() + static_cast<std::ptrdiff_t>((1 - kBaseShare) * static_cast<double>(values.size() - 1));
        std::nth_element(values.begin(), place, values.end());
        at.push_back(col);
        level.push_back(*place);
    }
    for (int col = 0; col < band.cols; ++col) {
        const auto k = std::min(static_cast<std::size_t>(col / step), at.size() - 1);
        const std::size_t next = std::min(k + 1, at.size() - 1);
        const double share = next > k ? (col - at[k]) / (at[next] - at[k]) : 0;
        band.col(col) -= cv::Scalar(level[k] + share * (level[next] - level[k]));
    }
}

/// The rows a symbol is sure to fill.
cv::Mat code_rows(const cv::Mat& band, double px_per_mm, bool below) {
    const double first = below ? kBandToMm - kCodeToMm : kCodeFromMm - kBandFromMm;
    const int from = static_cast<int>(first * px_per_mm), to = static_cast<int>((first + kCodeToMm - kCodeFromMm) * px_per_mm);
    return band.rowRange(std::clamp(from, 0, band.rows - 1), std::clamp(to, 1, band.rows));
}

double probability(double lead) { return 1 / (1 + std::exp(-lead)); }

}  // namespace

EdgePrint read_edge_print(const Overview& overview, const StripBox& strip, PixelsPerMm scale) {
    EdgePrint print;
    const double full_px_per_mm = scale.value(), px_per_mm = full_px_per_mm / overview.factor;
    if (!(px_per_mm >= kLeastPxPerMm)) return print;
    Quad corners = strip.corners;
    for (PointPx& p : corners) p = p * (1.0 / overview.factor);
    const double length = distance(corners[0], corners[1]) / px_per_mm, width = distance(corners[0], corners[3]) / px_per_mm;
    if (width < kWholeWidthMm || width > kWidestMm || length < 10) return print;
    const double sampling = std::min(px_per_mm, kMostPxPerMm);
    FiguresRead best;
    for (const bool below : {false, true}) {
        cv::Mat band = read_band(overview, corners, length, width, strip.film_edges_seen ? strip.bow.value.value() : 0.0, below, sampling);
        take_base_off(band, sampling);
        if (const auto code = read_edge_code(code_rows(band, sampling, below)); code && print.kind == EdgePrint::Kind::none)
            print = {EdgePrint::Kind::machine_code, code->text, 0, false, false, code->backwards, below};
        const FiguresRead read = read_figures(band, sampling);
        if (is_certain(read) && read.lead > best.lead) best = read;
    }
    if (is_certain(best)) {
        // Across the strip mirrored is along it mirrored and turned.
        print = {EdgePrint::Kind::numbers, best.text,       probability(best.lead), best.turned != best.mirrored, best.mirrored,
                 print.code_backwards,     print.code_below};
    }
    return print;
}

}  // namespace basefog
