// SPDX-License-Identifier: GPL-3.0-or-later
#include "frame_suite/match.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>

namespace basefog::suite {
namespace {

using Polygon = std::vector<cv::Point2f>;

constexpr double kSameFrame = 0.6;  ///< shared area over joint area: half of a frame taken for the whole stays below
constexpr double kExcused = 0.3;    ///< the same, for a frame that mostly lies off the film or the scan
constexpr double kSeenStep = 0.02;  ///< density, root mean square along an edge: ten times the grain of a hundred rows

Polygon polygon(const synthetic::Corners& corners) {
    Polygon out;
    for (const auto& c : corners) out.emplace_back(static_cast<float>(c[0]), static_cast<float>(c[1]));
    return out;
}
Polygon polygon(const Quad& quad) {
    Polygon out;
    for (const PointPx& p : quad) out.emplace_back(static_cast<float>(p.x), static_cast<float>(p.y));
    return out;
}

Polygon common(const Polygon& a, const Polygon& b) {
    Polygon out;
    cv::intersectConvexConvex(a, b, out, true);
    return out;
}

Polygon on_scan(const synthetic::Corners& corners, double width, double height) {
    const auto w = static_cast<float>(width), h = static_cast<float>(height);
    return common(polygon(corners), {{0, 0}, {w, 0}, {w, h}, {0, h}});
}

double likeness(const Polygon& a, const Polygon& b) {
    if (a.size() < 3 || b.size() < 3) return 0;
    const Polygon shared = common(a, b);
    const double area = shared.size() < 3 ? 0 : cv::contourArea(shared);
    return area / std::max(1.0, cv::contourArea(a) + cv::contourArea(b) - area);
}

const char* name(FrameKind kind) { return kind == FrameKind::picture ? "picture" : kind == FrameKind::blank ? "blank" : "fogged"; }
const char* name(synthetic::FrameContent content) {
    return content == synthetic::FrameContent::picture ? "picture" : content == synthetic::FrameContent::blank ? "blank" : "fogged";
}

bool pair_seen(double first_step, double second_step, bool others_tell_distance) {
    const bool first = first_step > kSeenStep, second = second_step > kSeenStep;
    return (first && second) || ((first || second) && others_tell_distance);
}
/// Ends are the sides across the strip: the second and the fourth.
bool ends_seen(const synthetic::FrameTruth& frame, bool others_tell_width) { return pair_seen(frame.edge_step[3], frame.edge_step[1], others_tell_width); }
/// And the long sides the first and the third.
bool long_sides_seen(const synthetic::FrameTruth& frame, bool others_tell_height) {
    return pair_seen(frame.edge_step[0], frame.edge_step[2], others_tell_height);
}

struct Place {
    int strip;
    const synthetic::FrameTruth* truth;
    Polygon whole, visible;
};

FrameOutcome blank_outcome(const Place& place, const synthetic::StripTruth& strip, const SheetOutcome& sheet) {
    FrameOutcome out;
    const synthetic::FrameTruth& t = *place.truth;
    out.strip = place.strip;
    out.number = t.number;
    out.content = name(t.content);
    out.visible_share = t.visible_share;
    out.difficulties = sheet.difficulties;
    out.difficulties.insert(out.difficulties.end(), strip.difficulties.begin(), strip.difficulties.end());
    out.difficulties.insert(out.difficulties.end(), t.difficulties.begin(), t.difficulties.end());
    const bool width_told = std::any_of(strip.frames.begin(), strip.frames.end(), [](const auto& f) { return !f.cut_off && ends_seen(f, false); });
    const bool height_told = std::any_of(strip.frames.begin(), strip.frames.end(), [](const auto& f) { return long_sides_seen(f, false); });
    out.edges_seen = ends_seen(t, width_told) && long_sides_seen(t, height_told);
    return out;
}

}  // namespace

double corner_error_px(const Quad& found, const synthetic::FrameTruth& truth, double width, double height) {
    const Polygon cut = on_scan(truth.on_film_px, width, height);
    const auto from = [&](std::size_t i, const PointPx& p) {
        const auto apart = [&](const std::array<double, 2>& c) { return std::hypot(c[0] - p.x, c[1] - p.y); };
        double best = std::min(apart(truth.corners_px[i]), apart(truth.on_film_px[i]));
        if (truth.in_opening_px) best = std::min(best, apart((*truth.in_opening_px)[i]));
        const auto& c = truth.corners_px[i];
        if (c[0] < 0 || c[1] < 0 || c[0] > width || c[1] > height) {
            for (const cv::Point2f& q : cut) best = std::min(best, apart({q.x, q.y}));
        }
        return best;
    };
    double least = std::numeric_limits<double>::infinity();
    for (std::size_t order = 0; order < 8; ++order) {
        double worst = 0;
        for (std::size_t i = 0; i < 4; ++i) worst = std::max(worst, from(i, found[order < 4 ? (i + order) % 4 : (order + 4 - i) % 4]));
        least = std::min(least, worst);
    }
    return least;
}

void match(const SheetLayout& layout, const synthetic::Sheet& sheet, double width, double height, double px_per_mm, SheetOutcome& outcome) {
    std::vector<Place> places;
    for (std::size_t i = 0; i < sheet.strips.size(); ++i) {
        for (const auto& frame : sheet.strips[i].frames) {
            places.push_back({static_cast<int>(i), &frame, polygon(frame.corners_px), on_scan(frame.on_film_px, width, height)});
            outcome.frames.push_back(blank_outcome(places.back(), sheet.strips[i], outcome));
        }
    }
    std::vector<const FrameBox*> found;
    for (const StripBox& strip : layout.strips) {
        for (const FrameBox& frame : strip.frames) found.push_back(&frame);
    }
    struct Pair {
        double likeness;
        std::size_t place, found;
    };
    std::vector<Pair> pairs;
    std::vector<double> excuse(found.size(), 0);
    for (std::size_t f = 0; f < found.size(); ++f) {
        const Polygon box = polygon(found[f]->corners);
        for (std::size_t p = 0; p < places.size(); ++p) {
            const double alike = std::max(likeness(box, places[p].whole), likeness(box, places[p].visible));
            if (alike > kSameFrame) pairs.push_back({alike, p, f});
            if (places[p].truth->visible_share < 0.5) excuse[f] = std::max(excuse[f], alike);
        }
    }
    std::stable_sort(pairs.begin(), pairs.end(), [](const Pair& a, const Pair& b) { return a.likeness > b.likeness; });
    std::vector<bool> taken(found.size(), false);
    for (const Pair& pair : pairs) {
        FrameOutcome& out = outcome.frames[pair.place];
        if (out.found || taken[pair.found]) continue;
        const FrameBox& box = *found[pair.found];
        taken[pair.found] = out.found = true;
        out.found_kind = name(box.kind);
        out.confidence = box.confidence;
        out.edge_std_mm = box.edge_std.value();
        out.error_mm = corner_error_px(box.corners, *places[pair.place].truth, width, height) / px_per_mm;
    }
    for (std::size_t f = 0; f < found.size(); ++f) {
        if (!taken[f]) outcome.strays.push_back({name(found[f]->kind), found[f]->confidence, excuse[f] > kExcused});
    }
}

}  // namespace basefog::suite
