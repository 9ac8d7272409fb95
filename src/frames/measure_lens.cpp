// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/frames/measure_lens.h"

#include "bending.h"
#include "edge_profile.h"
#include "robust.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

namespace basefog {
namespace {

using namespace frames;

// An edge is traced twice: roughly, however the lens bends it, and then closely about the course that most pieces agree on.
constexpr int kPieces = 48;
constexpr double kCorner = 0.03;      // of the length left out at each end
constexpr double kWide = 0.03;        // of the frame's longer side, either way: a lens of 5 % moves an edge's middle by a fiftieth. Chosen
constexpr double kClose = 0.007;      // likewise, about the course. Chosen: .25 mm
constexpr double kAgree = 0.004;      // pieces this far off the course agree with it. Chosen: .14 mm
constexpr int kLeastPieces = 16;      // of an edge that counts. Chosen: a third
constexpr double kGatesOwn = 0.0006;  // a gate's side wanders by this share of the longer side: .02 mm. Common practice, no source
constexpr double kAlike = 6;          // neighbouring pieces that share an error. Chosen

/// How far bare light is clearer than the film between perforations, at the least. Chosen: the clearest film has .2 of density.
constexpr double kClearer = 0.12;
constexpr double kHoleAlong = 1.98, kHoleAcross = 2.79, kPitch = 4.75;  // mm [SMPTE139]; the other kinds differ by less than is asked here
constexpr int kLeastHoles = 4;

// What lenses do, before anything was seen: one sigma. Chosen: those for copying stay within a few per cent.
constexpr double kUsualK1 = 0.05, kUsualK2 = 0.015;
constexpr double kSure = 4;            // standard deviations that a lens must be off a perfect one
constexpr double kLeastBent = 0.0004;  // of half the diagonal; less is not worth the interpolation. Chosen: 1.4 pixels of 24 million

struct Edge {
    cv::Point2d from, along, inwards;  ///< unit vectors; from the first corner
    double length = 0;
};
/// How far off the straight edge, towards the picture, as a quadratic of the share of the length.
using Course = std::array<double, 3>;
double at(const Course& c, double s) { return c[0] + (c[1] + c[2] * s) * s; }

struct Seen {
    double s = 0, off = 0;
};

std::vector<Seen> trace(const cv::Mat& density, const Edge& edge, const Course& about, double reach) {
    std::vector<Seen> out;
    const double piece = edge.length * (1 - 2 * kCorner) / kPieces;
    for (int i = 0; i < kPieces; ++i) {
        const double start = kCorner * edge.length + piece * i, s = (start + piece / 2) / edge.length, there = at(about, s);
        const cv::Point2d from = edge.from + edge.along * start + edge.inwards * there;
        if (const auto off = crossing(density, from, edge.along, edge.inwards, piece, reach)) out.push_back({s, there + *off});
    }
    return out;
}

/// Through three places.
std::optional<Course> through(const Seen& a, const Seen& b, const Seen& c) {
    if (b.s - a.s < 0.15 || c.s - b.s < 0.15) return std::nullopt;
    const double first = (b.off - a.off) / (b.s - a.s), second = (c.off - b.off) / (c.s - b.s), bend = (second - first) / (c.s - a.s);
    return Course{a.off - first * a.s + bend * a.s * b.s, first - bend * (a.s + b.s), bend};
}

/// The course that most pieces agree on.
std::optional<Course> agreed(const std::vector<Seen>& seen, double agree, double most_bend) {
    double best = 0;
    std::optional<Course> course;
    for (std::size_t i = 0; i < seen.size(); ++i)
        for (std::size_t j = i + 1; j < seen.size(); j += 2)
            for (std::size_t k = j + 1; k < seen.size(); k += 2) {
                const auto candidate = through(seen[i], seen[j], seen[k]);
                if (!candidate || std::abs((*candidate)[2]) > most_bend) continue;
                double support = 0;
                for (const Seen& p : seen) {
                    const double d = (p.off - at(*candidate, p.s)) / agree;
                    support += std::max(0.0, 1 - d * d);
                }
                if (support > best) best = support, course = candidate;
            }
    return course;
}

PointPx on_scan(cv::Point2d p, int factor) { return {(p.x + 0.5) * factor, (p.y + 0.5) * factor}; }

std::optional<StraightThing> trace_edge(const cv::Mat& density, const Edge& edge, double longer, int factor) {
    const auto rough = agreed(trace(density, edge, {}, kWide * longer), kAgree * longer, 4 * kWide * longer);
    if (!rough) return std::nullopt;
    const std::vector<Seen> seen = trace(density, edge, *rough, kClose * longer);
    const auto course = agreed(seen, kAgree * longer / 2, 4 * kWide * longer);
    if (!course) return std::nullopt;
    StraightThing thing;
    std::vector<double> off;
    for (const Seen& p : seen) {
        if (std::abs(p.off - at(*course, p.s)) > kAgree * longer / 2) continue;
        thing.points.push_back(on_scan(edge.from + edge.along * (p.s * edge.length) + edge.inwards * p.off, factor));
        off.push_back(p.off - at(*course, p.s));
    }
    if (off.size() < kLeastPieces) return std::nullopt;
    thing.std_px = factor * std::hypot(spread(off, median(off)), kGatesOwn * longer) * std::sqrt(kAlike);
    return thing;
}

/// Whole perforations beside the frame, as places on the overview.
std::vector<cv::Point2d> holes_beside(const cv::Mat& density, const std::array<cv::Point2d, 4>& frame, double px_per_mm) {
    const cv::Point2d across = (frame[3] + frame[2] - frame[0] - frame[1]) * 0.5, down = across * (1 / cv::norm(across));
    // Film between the frame and the perforations, on either side.
    std::vector<double> levels;
    constexpr double kRebate = 0.3;  // mm off the frame
    constexpr int kPlaces = 80;
    for (int i = 0; i < kPlaces; ++i)
        for (const bool below : {false, true}) {
            const double t = (i + 0.5) / kPlaces;
            const cv::Point2d p =
                below ? frame[3] * (1 - t) + frame[2] * t + down * (kRebate * px_per_mm) : frame[0] * (1 - t) + frame[1] * t - down * (kRebate * px_per_mm);
            levels.push_back(sample(density, p));
        }
    cv::Mat clear = density < median(levels) - kClearer, labels, stats, centres;
    const int n = cv::connectedComponentsWithStats(clear, labels, stats, centres, 4, CV_32S);
    const double nominal = kHoleAlong * kHoleAcross * px_per_mm * px_per_mm;
    std::vector<cv::Point2d> out;
    for (int i = 1; i < n; ++i) {
        const int x = stats.at<int>(i, cv::CC_STAT_LEFT), y = stats.at<int>(i, cv::CC_STAT_TOP), w = stats.at<int>(i, cv::CC_STAT_WIDTH),
                  h = stats.at<int>(i, cv::CC_STAT_HEIGHT);
        const int area = stats.at<int>(i, cv::CC_STAT_AREA);
        const bool whole = x > 1 && y > 1 && x + w < density.cols - 1 && y + h < density.rows - 1;
        if (whole && area > 0.7 * nominal && area < 1.25 * nominal && area > 0.8 * w * h * 0.8)
            out.emplace_back(centres.at<double>(i, 0), centres.at<double>(i, 1));
    }
    return out;
}

/// Holes on one side of the frame, as a row: each has its place in pitches.
std::optional<StraightThing> row_of(std::vector<cv::Point2d> holes, cv::Point2d along, double px_per_mm, int factor) {
    if (holes.size() < kLeastHoles) return std::nullopt;
    std::sort(holes.begin(), holes.end(), [&](const cv::Point2d& a, const cv::Point2d& b) { return a.dot(along) < b.dot(along); });
    StraightThing row;
    double place = 0;
    for (std::size_t i = 0; i < holes.size(); ++i) {
        if (i > 0) {
            const double pitches = (holes[i] - holes[i - 1]).dot(along) / (kPitch * px_per_mm), step = std::round(pitches);
            if (step < 1 || std::abs(pitches - step) > 0.15) return std::nullopt;  // not perforations
            place += step;
        }
        row.points.push_back(on_scan(holes[i], factor));
        row.places.push_back(static_cast<int>(place));
    }
    constexpr double kOfHole = 0.15;  // overview pixels: a hole's middle over its thousands of pixels. Chosen
    row.std_px = kOfHole * factor;
    return row;
}

/// What is left of straightness and evenness with a lens undone, in standard deviations; large ones held back.
void add_residuals(const StraightThing& thing, const LensView& view, std::vector<double>& out) {
    constexpr double kHeld = 3;
    const auto held = [](double r) { return r / std::sqrt(1 + r * r / (kHeld * kHeld)); };
    std::vector<PointPx> p;
    PointPx middle;
    for (const PointPx& seen : thing.points) p.push_back(view.perfect(seen)), middle = middle + p.back();
    const double n = static_cast<double>(p.size());
    middle = middle * (1 / n);
    double xx = 0, xy = 0, yy = 0;
    for (const PointPx& q : p) {
        const PointPx d = q - middle;
        xx += d.x * d.x, xy += d.x * d.y, yy += d.y * d.y;
    }
    const double angle = 0.5 * std::atan2(2 * xy, xx - yy), c = std::cos(angle), s = std::sin(angle);
    for (const PointPx& q : p) out.push_back(held((c * (q.y - middle.y) - s * (q.x - middle.x)) / thing.std_px));
    if (thing.places.empty()) return;
    double k = 0, kk = 0, ku = 0;
    for (const int place : thing.places) k += place / n;
    for (std::size_t i = 0; i < p.size(); ++i) {
        const double d = thing.places[i] - k;
        kk += d * d, ku += d * (c * (p[i].x - middle.x) + s * (p[i].y - middle.y));
    }
    for (std::size_t i = 0; i < p.size(); ++i)
        out.push_back(held((c * (p[i].x - middle.x) + s * (p[i].y - middle.y) - ku / kk * (thing.places[i] - k)) / thing.std_px));
}

std::vector<double> residuals(const std::vector<StraightThing>& things, const LensModel& lens, std::int64_t width, std::int64_t height) {
    const LensView view(lens, width, height);
    std::vector<double> out{lens.k1 / kUsualK1, lens.k2 / kUsualK2};
    for (const StraightThing& thing : things) add_residuals(thing, view, out);
    return out;
}

}  // namespace

std::vector<StraightThing> trace_straight(const Overview& overview, const SheetLayout& layout) {
    std::vector<StraightThing> out;
    if (layout.strips.size() != 1 || layout.strips[0].frames.size() != 1) return out;
    const cv::Mat density = densities(overview);
    const Quad& corners = layout.strips[0].frames[0].corners;
    std::array<cv::Point2d, 4> frame;
    for (std::size_t i = 0; i < 4; ++i) frame[i] = {corners[i].x / overview.factor - 0.5, corners[i].y / overview.factor - 0.5};
    const cv::Point2d middle = (frame[0] + frame[1] + frame[2] + frame[3]) * 0.25;
    const double longer = std::max(cv::norm(frame[1] - frame[0]), cv::norm(frame[3] - frame[0]));
    for (std::size_t i = 0; i < 4; ++i) {
        Edge edge{frame[i], frame[(i + 1) % 4] - frame[i], {}, cv::norm(frame[(i + 1) % 4] - frame[i])};
        edge.along *= 1 / edge.length;
        edge.inwards = {-edge.along.y, edge.along.x};
        if (edge.inwards.dot(middle - edge.from) < 0) edge.inwards *= -1;
        if (auto thing = trace_edge(density, edge, longer, overview.factor)) out.push_back(std::move(*thing));
    }
    const double px_per_mm = layout.scale.value() / overview.factor;
    std::array<std::vector<cv::Point2d>, 2> sides;
    const cv::Point2d along = (frame[1] - frame[0]) * (1 / cv::norm(frame[1] - frame[0])), across = (frame[3] - frame[0]) * (1 / cv::norm(frame[3] - frame[0]));
    const double half = 0.5 * cv::norm(frame[3] - frame[0]);
    for (const cv::Point2d& hole : holes_beside(density, frame, px_per_mm)) {
        const double off = (hole - middle).dot(across);
        if (std::abs(off) > half) sides[off > 0 ? 1 : 0].push_back(hole);
    }
    for (std::vector<cv::Point2d>& side : sides)
        if (auto row = row_of(std::move(side), along, px_per_mm, overview.factor)) out.push_back(std::move(*row));
    return out;
}

LensFit fit_lens(const std::vector<StraightThing>& things, std::int64_t width, std::int64_t height) {
    LensFit fit;
    fit.things = static_cast<int>(things.size());
    if (things.empty()) return fit;
    constexpr int kSteps = 12;
    constexpr double kSmall = 1e-5;
    LensModel lens;
    cv::Matx22d information = cv::Matx22d::eye();
    const auto squares = [&](const LensModel& l) {
        double sum = 0;
        for (const double r : residuals(things, l, width, height)) sum += r * r;
        return sum;
    };
    double now = squares(lens);
    for (int step = 0; step < kSteps; ++step) {
        const std::vector<double> r = residuals(things, lens, width, height), by_k1 = residuals(things, {lens.k1 + kSmall, lens.k2}, width, height),
                                  by_k2 = residuals(things, {lens.k1, lens.k2 + kSmall}, width, height);
        cv::Vec2d downhill{};
        information = cv::Matx22d::zeros();
        for (std::size_t i = 0; i < r.size(); ++i) {
            const cv::Vec2d slope((by_k1[i] - r[i]) / kSmall, (by_k2[i] - r[i]) / kSmall);
            information += slope * slope.t();
            downhill -= slope * r[i];
        }
        const cv::Vec2d move = information.inv() * downhill;
        double share = 1;
        for (; share > 1e-3; share *= 0.5) {
            const LensModel tried{lens.k1 + share * move[0], lens.k2 + share * move[1]};
            if (!is_sound(tried)) continue;
            if (const double then = squares(tried); then < now) {
                lens = tried, now = then;
                break;
            }
        }
        if (share <= 1e-3 || cv::norm(move) * share < 1e-7) break;
    }
    const cv::Vec2d k(lens.k1, lens.k2);
    fit.std_k1 = std::sqrt(information.inv()(0, 0));
    const double half = 0.5 * std::hypot(static_cast<double>(width), static_cast<double>(height));
    fit.told = k.dot(information * k) > kSure * kSure && bending(lens) > kLeastBent;
    if (fit.told) fit.lens = lens, fit.bent_px = bending(lens) * half;
    return fit;
}

}  // namespace basefog
