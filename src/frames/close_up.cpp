// SPDX-License-Identifier: GPL-3.0-or-later
#include "close_up.h"

#include "edge_profile.h"
#include "robust.h"
#include "say.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <optional>
#include <utility>
#include <vector>

namespace basefog::frames {
namespace {

/// Tilts tried, degrees, and their step; finer is found by the lines themselves. Chosen.
constexpr double kTiltStep = 0.5;
/// Share of the picture's side that a line is asked along, about its middle: corners belong to neighbours. Chosen.
constexpr double kAlong = 0.66;
/// A line is a candidate from this mean signed step on. Chosen: at half of the frame's edge something is denser than the rebate even at night.
constexpr double kLeastStep = 0.15;
constexpr std::size_t kMostCandidates = 24;
/// One sigma of a gate's proportions, and of how far the lines may be off square over the frame's length, as a share. Chosen: gates differ by a per cent.
constexpr double kAspectStd = 0.012;
/// A frame fills at least this share of the picture, each way. Chosen: below, it is no close-up.
constexpr double kLeastFill = 0.35;
/// What a format other than the full frame must do better by, of four whole steps. Chosen: what is drawn in a picture may well have the proportions of another
/// gate, and a person who photographs half frames can say so.
constexpr double kUsualLead = 1.2;
/// What filling the whole picture is worth beside filling none of it. Chosen: things in a picture have straight edges too; the gate is the largest.
constexpr double kFilling = 1.0;
/// The frame's side is cut into this many pieces, each of which says where the edge is.
constexpr int kPieces = 36;
constexpr double kSearchShare = 0.012;  // of the frame's longer side, either way of the candidate: .4 mm of a full frame
constexpr double kAgreeShare = 0.0045;  // pieces this far off the line agree with it: .16 mm
constexpr double kGoodShare = 0.45;     // of pieces agreeing: the edge is as good as seen whole

/// Lines this far from the chosen ones, as a share of the longer side, are another frame; a score this much behind makes them e times less likely. Chosen.
constexpr double kAnother = 0.015, kSureLead = 0.08;

/// What a side that shows nothing of its edge leaves of the confidence. Chosen.
constexpr double kUnseen = 0.3;

enum Side { top, right, bottom, left };

/// Mean signed step across each row of a picture, from above to below, of the columns in its middle.
std::vector<double> steps_down(const cv::Mat& density) {
    const int guard = std::max(2, density.rows / 400), from = static_cast<int>(density.cols * (0.5 - kAlong / 2)), to = density.cols - from;
    std::vector<double> out(static_cast<std::size_t>(density.rows), 0.0);
    for (int y = guard; y + guard < density.rows; ++y) {
        const auto *above = density.ptr<float>(y - guard), *below = density.ptr<float>(y + guard);
        double sum = 0;
        for (int x = from; x < to; ++x) sum += std::clamp(static_cast<double>(below[x] - above[x]) / kWholeStep, -1.0, 1.0);
        out[static_cast<std::size_t>(y)] = sum / (to - from);
    }
    return out;
}

struct EdgeLine {
    double at = 0, step = 0;
};
/// The strongest steps of one sign; `sign` 1: denser further down.
std::vector<EdgeLine> candidates(const std::vector<double>& steps, double sign) {
    std::vector<EdgeLine> out;
    for (std::size_t i = 1; i + 1 < steps.size(); ++i) {
        const double s = sign * steps[i];
        if (s >= kLeastStep && s >= sign * steps[i - 1] && s > sign * steps[i + 1]) out.push_back({static_cast<double>(i), s});
    }
    std::sort(out.begin(), out.end(), [](const EdgeLine& a, const EdgeLine& b) { return a.step > b.step; });
    // Neighbouring peaks are one edge.
    std::vector<EdgeLine> apart;
    const double least = static_cast<double>(steps.size()) / 120;
    for (const EdgeLine& l : out)
        if (std::none_of(apart.begin(), apart.end(), [&](const EdgeLine& k) { return std::abs(k.at - l.at) < least; })) apart.push_back(l);
    if (apart.size() > kMostCandidates) apart.resize(kMostCandidates);
    return apart;
}

struct Choice {
    double score = -1e9;
    std::array<double, 4> at{};  ///< by Side, in the turned picture
    FrameFormat format = FrameFormat::full;
    bool upright = false;  ///< the strip runs down the picture
};

bool differs(const std::array<double, 4>& a, const std::array<double, 4>& b, double by) {
    for (std::size_t i = 0; i < 4; ++i)
        if (std::abs(a[i] - b[i]) > by) return true;
    return false;
}

std::vector<FrameFormat> formats_for(const FindOptions& options) {
    if (options.format != FrameFormat::automatic) return {options.format};
    std::vector<FrameFormat> out;
    for (const FormatSize& f : kFormats) out.push_back(f.format);
    return out;
}

/// Two opposite sides.
struct Span {
    EdgeLine first, second;
    [[nodiscard]] double length() const { return second.at - first.at; }
    [[nodiscard]] double step() const { return first.step + second.step; }
};

/// One side seen, the other `length` from it, not seen, and within the picture.
std::vector<Span> with_one_unseen(const std::vector<EdgeLine>& firsts, const std::vector<EdgeLine>& seconds, double length, int most) {
    std::vector<Span> out;
    for (const EdgeLine& l : firsts)
        if (l.at + length < most - 1) out.push_back({l, {l.at + length, 0.0}});
    for (const EdgeLine& l : seconds)
        if (l.at - length > 0) out.push_back({{l.at - length, 0.0}, l});
    return out;
}

/// Four lines with a gate's proportions; another than `but`, where that is given.
Choice choose(const cv::Mat& turned, const FindOptions& options, const Choice* but = nullptr) {
    cv::Mat sideways;
    cv::transpose(turned, sideways);
    const std::vector<double> down = steps_down(turned), across = steps_down(sideways);
    const std::vector<EdgeLine> tops = candidates(down, 1), bottoms = candidates(down, -1), lefts = candidates(across, 1), rights = candidates(across, -1);
    Choice best;
    const auto spans = [](const std::vector<EdgeLine>& firsts, const std::vector<EdgeLine>& seconds, double least) {
        std::vector<Span> out;
        for (const EdgeLine& a : firsts)
            for (const EdgeLine& b : seconds)
                if (b.at - a.at >= least) out.push_back({a, b});
        return out;
    };
    const std::vector<Span> heights = spans(tops, bottoms, kLeastFill * turned.rows), widths = spans(lefts, rights, kLeastFill * turned.cols);
    for (const FrameFormat format : formats_for(options)) {
        const FormatSize& size = size_of(format);
        const double usual = format == FrameFormat::full ? kUsualLead : 0;
        for (const bool upright : {false, true}) {
            const double aspect = upright ? size.across / size.along : size.along / size.across;
            const auto consider = [&](const Span& h, const Span& w) {
                const double off = std::log(w.length() / h.length() / aspect) / kAspectStd;
                const double filled = w.length() * h.length() / (static_cast<double>(turned.rows) * turned.cols);
                const double score = h.step() + w.step() + usual + kFilling * filled - 0.5 * off * off;
                if (score <= best.score) return;
                const std::array<double, 4> at{h.first.at, w.second.at, h.second.at, w.first.at};
                if (but == nullptr || differs(at, but->at, kAnother * std::max(turned.rows, turned.cols))) best = {score, at, format, upright};
            };
            for (const Span& h : heights)
                for (const Span& w : widths) consider(h, w);
            // A side that shows nothing, black against the rebate: where the other three and the proportions put it.
            for (const Span& h : heights)
                for (const Span& w : with_one_unseen(lefts, rights, h.length() * aspect, turned.cols)) consider(h, w);
            for (const Span& w : widths)
                for (const Span& h : with_one_unseen(tops, bottoms, w.length() / aspect, turned.rows)) consider(h, w);
        }
    }
    return best;
}

cv::Mat turn(const cv::Mat& picture, double degrees) {
    if (degrees == 0) return picture;
    cv::Mat out;
    const cv::Point2f middle(static_cast<float>(picture.cols - 1) / 2, static_cast<float>(picture.rows - 1) / 2);
    cv::warpAffine(picture, out, cv::getRotationMatrix2D(middle, degrees, 1), picture.size(), cv::INTER_LINEAR, cv::BORDER_REPLICATE);
    return out;
}

/// A place of the turned picture in the picture itself.
cv::Point2d turn_back(cv::Point2d p, const cv::Mat& picture, double degrees) {
    const cv::Point2d middle((picture.cols - 1) / 2.0, (picture.rows - 1) / 2.0), d = p - middle;
    const double a = degrees * CV_PI / 180;  // the warp turns counter-clockwise by `degrees`
    return {middle.x + std::cos(a) * d.x - std::sin(a) * d.y, middle.y + std::sin(a) * d.x + std::cos(a) * d.y};
}

struct Edge {
    cv::Point2d through;
    cv::Point2d along;
    double agreeing = 0;  ///< share of its pieces
    double std = 0;       ///< of its place, pixels
};

/// One edge from its rough ends: every piece votes, the line that most agree on wins.
Edge refine(const cv::Mat& density, cv::Point2d a, cv::Point2d b, cv::Point2d inwards, double longer_side) {
    Edge edge;
    const double length = cv::norm(b - a);
    const cv::Point2d along = (b - a) * (1 / length);
    constexpr double kCorner = 0.03;  // of the length is left out at each end
    std::vector<cv::Point2d> seen;    // along the edge, and off it
    const double usable = length * (1 - 2 * kCorner), piece = usable / kPieces, reach = kSearchShare * longer_side;
    for (int i = 0; i < kPieces; ++i) {
        const double s = kCorner * length + piece * i;
        if (const auto off = crossing(density, a + along * s, along, inwards, piece, reach)) seen.emplace_back(s + piece / 2, *off);
    }
    edge.through = a, edge.along = along, edge.std = reach;
    if (seen.size() < 4) return edge;
    // Through every two pieces: the line that most others agree with; then least squares through those.
    const double agree = kAgreeShare * longer_side;
    double best = -1, offset = 0, slope = 0;
    for (std::size_t i = 0; i < seen.size(); ++i)
        for (std::size_t j = i + 1; j < seen.size(); ++j) {
            if (seen[j].x - seen[i].x < length / 6) continue;
            const double m = (seen[j].y - seen[i].y) / (seen[j].x - seen[i].x), c = seen[i].y - m * seen[i].x;
            if (std::abs(m) > 0.02) continue;
            double support = 0;
            for (const cv::Point2d& p : seen) {
                const double d = (p.y - m * p.x - c) / agree;
                support += std::max(0.0, 1 - d * d);
            }
            if (support > best) best = support, offset = c, slope = m;
        }
    if (best < 0) return edge;
    double n = 0, x = 0, y = 0, xx = 0, xy = 0;
    std::vector<cv::Point2d> with;
    for (const cv::Point2d& p : seen)
        if (std::abs(p.y - slope * p.x - offset) < agree) with.push_back(p), n += 1, x += p.x, y += p.y;
    x /= n, y /= n;
    for (const cv::Point2d& p : with) xx += (p.x - x) * (p.x - x), xy += (p.x - x) * (p.y - y);
    slope = xx > 0 ? xy / xx : 0;
    double squares = 0;
    for (const cv::Point2d& p : with) squares += std::pow(p.y - y - slope * (p.x - x), 2);
    edge.through = a + along * x + inwards * y;
    edge.along = along + inwards * slope;
    edge.agreeing = n / kPieces;
    edge.std = std::sqrt(squares / std::max(n - 2, 1.0) / n);
    return edge;
}

std::optional<cv::Point2d> meet(const Edge& a, const Edge& b) {
    const double cross = a.along.x * b.along.y - a.along.y * b.along.x;
    if (std::abs(cross) < 0.5) return std::nullopt;
    const cv::Point2d d = b.through - a.through;
    return a.through + a.along * ((d.x * b.along.y - d.y * b.along.x) / cross);
}

PointPx to_scan(cv::Point2d p, int factor) { return {(p.x + 0.5) * factor, (p.y + 0.5) * factor}; }

/// How far the clear film about the picture goes on beyond one of its sides, mm: outwards from its edge, until most of what lies along it is no clear film
/// any more, but the next picture, a holder or bare light. Perforations take less than half of any line. `out` leads from the frame's middle to the
/// side's, which lies `half` mm off; `side` is the side itself.
double clear_beyond(const cv::Mat& density, int factor, PointPx middle, PointPx out, PointPx side, double half, double most) {
    constexpr double kBegin = 0.4, kStep = 0.1, kChange = 0.15, kInside = 0.2;  // mm, mm, density, mm. Chosen: fog and edge marks change less
    constexpr int kPlaces = 60;
    const auto level = [&](double mm) -> std::optional<double> {
        std::vector<double> values;
        for (int i = 0; i < kPlaces; ++i) {
            const PointPx p = middle + side * ((i + 0.5) / kPlaces - 0.5) + out * (1 + mm / half);
            const double x = p.x / factor - 0.5, y = p.y / factor - 0.5;
            if (x >= 0 && y >= 0 && x <= density.cols - 1 && y <= density.rows - 1) values.push_back(sample(density, {x, y}));
        }
        if (values.size() < kPlaces / 2) return std::nullopt;
        return median(std::move(values));
    };
    const auto rebate = level(kBegin);
    if (!rebate) return kBegin;
    for (double at = kBegin + kStep; at < most; at += kStep) {
        const auto here = level(at);
        if (!here || std::abs(*here - *rebate) >= kChange) return std::max(at - kInside, 0.0);
    }
    return most;
}

/// The clear film about the frame, as far as it is in view.
Quad film_about(const cv::Mat& density, const Quad& frame, const FormatSize& size, const Overview& overview) {
    const PointPx middle = centre(frame), along = (frame[1] + frame[2] - frame[0] - frame[3]) * 0.5, across = (frame[3] + frame[2] - frame[0] - frame[1]) * 0.5;
    const double half_along = 0.5 * size.along.value(), half_across = 0.5 * size.across.value(), rebate = 0.5 * (size.film_width - size.across).value();
    const auto beyond = [&](PointPx out, PointPx side, double half, double most) {
        return 0.5 + 0.5 * clear_beyond(density, overview.factor, middle, out * 0.5, side, half, most) / half;
    };
    const double before = beyond(along * -1, across, half_along, size.along.value()), after = beyond(along, across, half_along, size.along.value());
    const double above = beyond(across * -1, along, half_across, rebate), below = beyond(across, along, half_across, rebate);
    const auto at = [&](double u, double v) {
        PointPx p = middle + along * u + across * v;
        p.x = std::clamp(p.x, 0.0, static_cast<double>(overview.scan_width)), p.y = std::clamp(p.y, 0.0, static_cast<double>(overview.scan_height));
        return p;
    };
    return {at(-before, -above), at(after, -above), at(after, below), at(-before, below)};
}

}  // namespace

SheetLayout find_close_up(const Overview& overview, const FindOptions& options) {
    SheetLayout layout;
    layout.scale_origin = ScaleOrigin::assumed;
    layout.scale = PixelsPerMm(static_cast<double>(std::max(overview.scan_width, overview.scan_height)) / 38);  // if nothing better is found
    const cv::Mat density = densities(overview);
    Choice best;
    double tilt = 0;
    const int steps = static_cast<int>(std::floor(options.max_tilt_deg / kTiltStep));
    for (int i = -steps; i <= steps; ++i) {
        const Choice choice = choose(turn(density, i * kTiltStep), options);
        if (choice.score > best.score) best = choice, tilt = i * kTiltStep;
    }
    if (best.score < 0) {
        say_strips(layout);
        return layout;
    }
    const auto corner = [&](Side x, Side y) { return turn_back({best.at[x], best.at[y]}, density, tilt); };
    const std::array<cv::Point2d, 4> rough{corner(left, top), corner(right, top), corner(right, bottom), corner(left, bottom)};
    const double w = cv::norm(rough[1] - rough[0]), h = cv::norm(rough[3] - rough[0]), longer = std::max(w, h);
    std::array<Edge, 4> edges;
    for (std::size_t i = 0; i < 4; ++i) {
        const cv::Point2d &a = rough[i], &b = rough[(i + 1) % 4], d = (b - a) * (1 / cv::norm(b - a));
        edges[i] = refine(density, a, b, {-d.y, d.x}, longer);
    }
    std::array<PointPx, 4> found;
    for (std::size_t i = 0; i < 4; ++i) {
        const auto p = meet(edges[(i + 3) % 4], edges[i]);
        found[i] = to_scan(p ? *p : rough[i], overview.factor);
    }
    const FormatSize& size = size_of(best.format);
    StripBox strip;
    strip.format = best.format;
    strip.direction = best.upright ? StripDirection::vertical : StripDirection::horizontal;
    FrameBox frame;
    // A strip that runs down is read from its top end: the picture's top left is the scan's top right.
    for (std::size_t i = 0; i < 4; ++i) frame.corners[i] = found[best.upright ? (i + 1) % 4 : i];
    const double along = 0.5 * (distance(frame.corners[0], frame.corners[1]) + distance(frame.corners[3], frame.corners[2]));
    const double across = 0.5 * (distance(frame.corners[0], frame.corners[3]) + distance(frame.corners[1], frame.corners[2]));
    layout.scale = PixelsPerMm(0.5 * (along / size.along.value() + across / size.across.value()));
    double seen = 1, worst = 0;
    for (const Edge& e : edges) seen *= std::clamp(e.agreeing / kGoodShare, kUnseen, 1.0), worst = std::max(worst, e.std);
    // Nearly as good a frame elsewhere, as on a chart or a wedge: which is the gate's cannot be told.
    const double lead = best.score - choose(turn(density, tilt), options, &best).score;
    seen /= 1 + std::exp(-lead / kSureLead);
    constexpr double kUsualFill = 0.6;  // Chosen: smaller, it may be a part of the picture
    const double filled = w * h / (static_cast<double>(density.rows) * density.cols);
    seen *= std::min(1.0, filled / kUsualFill);
    const double proportions = std::log(along / across / (size.along / size.across)) / kAspectStd;
    frame.confidence = std::clamp(seen * std::exp(-0.125 * proportions * proportions), 0.0, 0.99);
    frame.edge_std = Millimetres(worst * overview.factor / layout.scale.value());
    strip.corners = film_about(density, frame.corners, size, overview);
    const PointPx direction = frame.corners[1] - frame.corners[0];
    strip.angle_deg = std::atan2(direction.y, direction.x) * 180 / CV_PI - (best.upright ? 90 : 0);
    strip.confidence = frame.confidence;
    strip.format_confidence = frame.confidence;
    strip.frames.push_back(frame);
    layout.strips.push_back(std::move(strip));
    Finding scale;
    scale.severity = Severity::note, scale.code = "scale-from-frames";
    scale.message = "A close-up: its scale was taken from the frame's own size, which is good to a per cent.";
    scale.numbers = {{"film_dpi", layout.scale.value() * kMmPerInch}};
    layout.findings.push_back(std::move(scale));
    say_strips(layout);
    return layout;
}

}  // namespace basefog::frames
