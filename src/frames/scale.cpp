// SPDX-License-Identifier: GPL-3.0-or-later
#include "scale.h"

#include "chain.h"
#include "constants.h"
#include "robust.h"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace basefog::frames {

namespace {

constexpr double kStrongLattice = 0.4;  // Chosen: clean holes give 0.7, chance alignments of dust under 0.2
constexpr double kLeastHoleMm = 6;      // Chosen: at least three holes' worth of bare light along an edge

/// Share of bare light across the margin (0..1) at steps of `step` mm along the strip.
std::vector<double> bare_along(const Overview& overview, const SheetLight& light, const StripPlace& place, bool top, double margin, double step) {
    constexpr int kLooks = 16;
    std::vector<double> out;
    for (double u = place.u0 + 1; u < place.u1 - 1; u += step) {
        int bare = 0;
        for (int k = 0; k < kLooks; ++k) {
            const double in = (k + 0.5) / kLooks * margin;
            const PointPx p = place.pose.px_from_mm(u, top ? place.v0 + 0.2 + in : place.v1 - 0.2 - in);
            const auto x = static_cast<std::int64_t>(std::floor(p.x)), y = static_cast<std::int64_t>(std::floor(p.y));
            if (x < 0 || y < 0 || x >= overview.pixels.width() || y >= overview.pixels.height()) continue;
            bare += light.shade(light.density(clean_light(overview.pixels(x, y)), p.x, p.y)) == Shade::bare ? 1 : 0;
        }
        out.push_back(std::min(1.0, bare / 4.0));  // a sliver of a hole counts as much as a whole one
    }
    return out;
}

double strength_at(const std::vector<double>& signal, double step, double pitch) {
    double re = 0, im = 0, sum = 0;
    for (std::size_t i = 0; i < signal.size(); ++i) {
        const double phase = 2 * std::numbers::pi * static_cast<double>(i) * step / pitch;
        re += signal[i] * std::cos(phase);
        im += signal[i] * std::sin(phase);
        sum += signal[i];
    }
    return sum > 0 ? std::hypot(re, im) / sum : 0;
}

/// Evidence for frames on one piece, were this its scale; and the length of film it comes from.
std::pair<double, double> evidence_at_scale(const Overview& overview, const SheetLight& light, const Piece& piece, const cv::Mat& shades, int step,
                                            double scale, const FindOptions& options) {
    std::pair<double, double> best{0, piece.along() * step / scale};
    for (const StripPlace& place : place_strips({piece}, shades, step, scale, options)) {
        StripCells cells = sample_strip(overview, light, place, place.pose);
        measure_base(cells);
        const double centre = 0.5 * (place.v0 + place.v1);
        const Chain chain = find_chain(cells, place, {centre, 0, -kFirstBandMm, kFirstBandMm}, kDirtyShare, options);
        if (chain.slots.empty()) continue;
        const TopLine top = find_top(cells, place, chain, kDirtyShare, options);
        best.first = std::max(best.first, chain.score + top.evidence);
    }
    return best;
}

std::optional<double> scale_of_frames(const Overview& overview, const SheetLight& light, std::vector<Piece> pieces, const cv::Mat& shades, int step,
                                      const FindOptions& options) {
    constexpr double kRatio = 1.02;      // Chosen: an advance wrong by 2 % slips by less than a millimetre a frame
    constexpr double kLongEnough = 3.5;  // Chosen: a piece this many times longer than wide holds three frames or so, which settle the scale alone
    if (pieces.front().along() > kLongEnough * pieces.front().across()) pieces.resize(1);
    double best = 0, best_scale = 0;
    const double across = pieces.front().across() * step;
    for (double scale = across / options.film_width.value(); scale < across / (options.frame_height.value() - 0.7); scale *= kRatio) {
        double evidence = 0, length = 0;
        for (const Piece& piece : pieces) {
            const auto [e, l] = evidence_at_scale(overview, light, piece, shades, step, scale, options);
            evidence += e;
            length += l;
        }
        if (evidence / length <= best) continue;
        best = evidence / length;
        best_scale = scale;
    }
    return best > 0 ? std::optional(best_scale) : std::nullopt;
}

/// Width of the film between the half-way points of light at its edges, in the place's mm.
double width_between_edges(const Overview& overview, const SheetLight& light, const StripPlace& place) {
    constexpr int kLooks = 80;
    constexpr double kReach = 1.2;  // mm; the margin outside the perforations is 2 mm
    const double step = 0.25 / place.pose.px_per_mm();
    const auto light_at = [&](double u, double v) {
        const PointPx p = place.pose.px_from_mm(u, v);
        const auto x = std::clamp<std::int64_t>(static_cast<std::int64_t>(std::floor(p.x)), 0, overview.pixels.width() - 1);
        const auto y = std::clamp<std::int64_t>(static_cast<std::int64_t>(std::floor(p.y)), 0, overview.pixels.height() - 1);
        const std::array<float, 3> d = light.density(clean_light(overview.pixels(x, y)), p.x, p.y);
        return (std::pow(10, -d[0]) + std::pow(10, -d[1]) + std::pow(10, -d[2])) / 3;
    };
    std::vector<double> widths;
    for (int i = 0; i < kLooks; ++i) {
        const double u = place.u0 + (i + 0.5) / kLooks * place.length();
        double edge[2] = {0, 0};
        for (const int side : {0, 1}) {
            const double at = side == 0 ? place.v0 : place.v1, in = side == 0 ? 1 : -1;
            const double half = 0.5 * (light_at(u, at - in * kReach) + light_at(u, at + in * kReach));
            double crossings = 0;
            for (double x = -kReach; x < kReach; x += step) crossings += light_at(u, at + in * x) > half ? step : 0;
            edge[side] = at + in * (crossings - kReach);
        }
        widths.push_back(edge[1] - edge[0]);
    }
    return median(widths);
}

std::vector<Piece> largest_pieces(const cv::Mat& shades) {
    const auto by_size = [](const Piece& a, const Piece& b) { return a.pixels.size() > b.pixels.size(); };
    std::vector<Piece> pieces = find_pieces(shades, 1.5);  // a guess on the small side keeps small strips whole
    std::stable_sort(pieces.begin(), pieces.end(), by_size);
    if (pieces.empty()) return pieces;
    pieces = find_pieces(shades, pieces.front().across() / 30);
    std::stable_sort(pieces.begin(), pieces.end(), by_size);
    if (pieces.size() > 4) pieces.resize(4);
    return pieces;
}

}  // namespace

std::optional<Perforations> find_perforations(const Overview& overview, const SheetLight& light, const StripPlace& place, double least, double most) {
    if (!light.bare_seen()) return std::nullopt;
    const double step = std::max(0.1, 0.5 / place.pose.px_per_mm()), margin = std::min(5.5, 0.22 * place.width());
    std::optional<Perforations> best;
    for (const bool top : {true, false}) {
        const std::vector<double> signal = bare_along(overview, light, place, top, margin, step);
        double sum = 0;
        for (const double s : signal) sum += s * step;
        if (sum < kLeastHoleMm || sum > 0.75 * place.length()) continue;
        const double fine = 0.2 * least * least / std::max(place.length(), 20.0);  // a fifth of the peak's width
        Perforations found;
        for (double pitch = least; pitch <= most; pitch += fine) {
            const double s = strength_at(signal, step, pitch);
            if (s > found.strength) found = {pitch, s};
        }
        const double a = strength_at(signal, step, found.pitch - fine), b = found.strength, c = strength_at(signal, step, found.pitch + fine);
        if (a < b && c < b) found.pitch += 0.5 * fine * (a - c) / (a - 2 * b + c);
        if (found.strength > kStrongLattice && (!best || found.strength > best->strength)) best = found;
    }
    return best;
}

std::optional<FilmScale> scale_from_film(const Overview& overview, const SheetLight& light, const cv::Mat& shades, int step, const FindOptions& options) {
    const std::vector<Piece> pieces = largest_pieces(shades);
    std::vector<double> from_width;
    for (const Piece& piece : pieces) {
        for (const int lanes : {1, 2, 3}) {                                                     // strips that touch, side by side
            const double guess = piece.across() * step / (lanes * options.film_width.value());  // were the whole width in view
            for (const StripPlace& place : place_strips({piece}, shades, step, guess, options)) {
                if (lanes == 1 && place.whole_width_seen())
                    from_width.push_back(width_between_edges(overview, light, place) * guess / options.film_width.value());
                const double most = lanes > 1 || place.whole_width_seen() ? 1.06 : options.film_width.value() / (options.frame_height.value() - 0.7);
                if (const auto holes = find_perforations(overview, light, place, 0.94 * kPerforationPitchMm, most * kPerforationPitchMm)) {
                    return FilmScale{guess * holes->pitch / kPerforationPitchMm, ScaleOrigin::perforations};
                }
            }
        }
    }
    if (!from_width.empty()) return FilmScale{median(from_width), ScaleOrigin::film_width};
    if (pieces.empty()) return std::nullopt;
    if (const auto scale = scale_of_frames(overview, light, pieces, shades, step, options)) return FilmScale{*scale, ScaleOrigin::assumed};
    return std::nullopt;
}

}  // namespace basefog::frames
