// SPDX-License-Identifier: GPL-3.0-or-later
#include "ends.h"

#include "constants.h"
#include "edges.h"
#include "robust.h"
#include "winding.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <optional>
#include <utility>
#include <vector>

namespace basefog::frames {

namespace {

/// Chosen: a bar along an end is no wider, mm; what is further off may be a slip of the camera. Two edges nearer than this are one; and the share of an end
/// that shows it plainly.
constexpr double kBarMm = 3, kApart = 0.15, kPlainly = 0.6;

double gap_before(const StripFit& fit, std::size_t i) { return fit.frames[i].u - (i == 0 ? fit.place.u0 : fit.frames[i - 1].end()); }
double gap_after(const StripFit& fit, std::size_t i) { return (i + 1 == fit.frames.size() ? fit.place.u1 : fit.frames[i + 1].u) - fit.frames[i].end(); }

/// One end of a frame. A neighbour's picture may lie right beside it, or over it.
EdgeQuery end_query(const StripFit& fit, std::size_t i, Side side, double guard) {
    constexpr double kClearOfLongEdge = 0.6;
    const FrameFit& f = fit.frames[i];
    const bool left = side == Side::left, outermost = left ? i == 0 : i + 1 == fit.frames.size();
    const double gap = left ? gap_before(fit, i) : gap_after(fit, i);
    EdgeQuery query;
    query.side = side;
    query.at = left ? f.u : f.end();
    query.from = std::max(f.top, fit.place.v0) + kClearOfLongEdge;
    query.to = std::min(f.top + f.height, fit.place.v1) - kClearOfLongEdge;
    query.clear = (outermost ? gap : 0.5 * gap) - 0.1;
    query.blur_guard = guard;
    query.beside_picture = !outermost && gap < 2 * guard;
    return query;
}

/// How this camera winds on, from frames that show both ends.
struct Advance {
    double mean = 0, std = 0;
};

/// Frames of which both ends are seen, a gate's width apart.
struct Sure {
    double width = 0;
    std::vector<bool> frame;
};
Sure sure_frames(const StripFit& fit, const std::vector<FrameEdges>& edges) {
    constexpr double kWindow = 0.1, kWider = 0.1;  // Chosen: mm, edges are good to some hundredths; per mm, less than one frame's say
    std::vector<double> widths, weights;
    for (const FrameEdges& e : edges) {
        if (!e.left.seen || !e.right.seen || std::abs(e.right.at - e.left.at - fit.gauge.width) > 3 * fit.gauge.gate_std) continue;
        widths.push_back(e.right.at - e.left.at);
        // A bar makes a picture look narrower, nothing makes it wider: of two widths with as much behind them the wider is the gate's.
        weights.push_back(std::min(e.left.share, e.right.share) * (1 + kWider * (widths.back() - fit.gauge.width + 3 * fit.gauge.gate_std)));
    }
    Sure out{crowd(widths, weights, kWindow).at, std::vector<bool>(edges.size(), false)};
    for (std::size_t i = 0; i < edges.size() && !widths.empty(); ++i) {
        const FrameEdges& e = edges[i];
        out.frame[i] = e.left.seen && e.right.seen && std::abs(e.right.at - e.left.at - out.width) < kWindow;
    }
    return out;
}

/// Where a frame begins, as far as its ends say one thing: both of them a gate's width apart, or the one that shows plainly.
std::vector<std::optional<double>> starts_of(const StripFit& fit, const std::vector<FrameEdges>& edges, const Sure& sure) {
    std::vector<std::optional<double>> out(edges.size());
    const double width = sure.width > 0 ? sure.width : fit.gauge.width;
    for (std::size_t i = 0; i < edges.size(); ++i) {
        const FrameEdges& e = edges[i];
        if (sure.frame[i] || (e.left.seen && !e.right.seen && e.left.share > kPlainly)) out[i] = e.left.at;
        if (!e.left.seen && e.right.seen && e.right.share > kPlainly) out[i] = e.right.at - width;
    }
    return out;
}

Advance measure_advance(const StripFit& fit, const std::vector<std::optional<double>>& starts) {
    constexpr double kLeastStd = 0.08;                   // Chosen: gaps jitter by some hundredths of a millimetre at least
    constexpr double kOneStep = 0.8, kOneStepStd = 0.6;  // Chosen: cameras differ by twice what their gaps jitter
    std::vector<double> steps;
    for (std::size_t i = 1; i < starts.size(); ++i) {
        if (!starts[i] || !starts[i - 1]) continue;
        const double step = *starts[i] - *starts[i - 1];
        if (std::abs(step - fit.gauge.pitch) < 2.5 * fit.gauge.advance_std) steps.push_back(step);
    }
    if (steps.empty()) return {fit.advance, fit.gauge.advance_std};
    // One step alone tells the camera's advance but for its jitter; the evidence's own answer tells a little.
    if (steps.size() == 1) return {kOneStep * steps[0] + (1 - kOneStep) * fit.advance, kOneStepStd * fit.gauge.advance_std};
    const double mean = median(steps), n = static_cast<double>(steps.size());
    double square = fit.gauge.advance_std * fit.gauge.advance_std;
    for (const double s : steps) square += (s - mean) * (s - mean);
    return {mean, std::max(kLeastStd, std::sqrt(square / (1 + n)))};
}

/// A black bar along one end of a picture, or a line near it, passes for its edge. Of two ends that are not a gate's width apart, the one
/// that fits the frames beside it stands. Returned for each frame: what is left of doubt, mm.
std::vector<double> drop_false_ends(std::vector<FrameEdges>& edges, const std::vector<std::optional<double>>& starts, const Sure& sure,
                                    const Advance& advance) {
    constexpr double kPlain = 0.5;  // Chosen: natural log
    std::vector<double> doubt(edges.size(), 0.0);
    for (std::size_t i = 0; i < edges.size() && sure.width > 0; ++i) {
        FrameEdges& e = edges[i];
        if (!e.left.seen || !e.right.seen || sure.frame[i]) continue;
        const double apart = std::abs(e.right.at - e.left.at - sure.width);
        if (apart < kApart) continue;
        const auto cost = [&](double start) {
            double sum = 0;
            const auto beside = [&](double step) { sum += std::min(8.0, 0.5 * std::pow((step - advance.mean) / advance.std, 2)); };
            if (i > 0 && starts[i - 1]) beside(start - *starts[i - 1]);
            if (i + 1 < edges.size() && starts[i + 1]) beside(*starts[i + 1] - start);
            return sum;
        };
        const double by_left = cost(e.left.at), by_right = cost(e.right.at - sure.width);
        if (by_left > by_right + kPlain) e.left = {};
        if (by_right > by_left + kPlain) e.right = {};
        doubt[i] = apart / std::sqrt(1 + std::exp(std::abs(by_left - by_right)));
    }
    return doubt;
}

/// An end on which several stretches agree: light that fades makes a step of any one of them.
EdgeFit settle_many(const EdgePoints& points, const EdgeQuery& query) {
    constexpr std::size_t kLeast = 4;  // Chosen
    return points.points.size() < kLeast ? EdgeFit{} : settle(points, query);
}

/// A further look at one end, `outwards` mm beyond where it is or is expected.
EdgeFit look_beside(const Overview& overview, const SheetLight& light, const StripFit& fit, std::size_t i, Side side, double at, double outwards,
                    double guard) {
    EdgeQuery query = end_query(fit, i, side, guard);
    query.at = side == Side::left ? at - outwards : at + outwards;
    query.clear -= outwards;
    query.beside_picture = false;
    return settle_many(look_across(overview, light, fit.pose, fit.base, query), query);
}

/// Beyond the inner edge of a bar that is not quite black, the picture's own end shows as a faint step: the outermost straight one is the gate's. `most`: how
/// far out it may lie, mm.
void look_outwards(const Overview& overview, const SheetLight& light, const StripFit& fit, std::size_t i, Side side, double guard, double most, EdgeFit& edge) {
    constexpr double kStep = 0.3, kFromFilmEnd = 0.35, kLeastShare = 0.6;  // Chosen: mm, mm, share of the end
    const double room = (side == Side::left ? edge.at - fit.place.u0 : fit.place.u1 - edge.at) - kFromFilmEnd,
                 gap = (side == Side::left ? gap_before(fit, i) : gap_after(fit, i)) - kStep, reach = std::min({kBarMm, room, gap, most});
    const double start = edge.at;
    for (double by = 2 * guard; by < reach; by += kStep) {
        const EdgeFit further = look_beside(overview, light, fit, i, side, start, by, guard);
        const double beyond = side == Side::left ? start - further.at : further.at - start;
        if (!further.seen || further.share <= kLeastShare || std::abs(beyond - by) >= kStep || beyond <= kApart || beyond >= reach) continue;
        EdgeQuery query = end_query(fit, i, side, guard);
        query.at = further.at;
        if (steps_sharply(overview, light, fit.pose, fit.base, query)) edge = further;
    }
}

/// How far out the ends may be sought: between them no more than the widest gate. Where clear film may be bare light, film's own end would pass for a
/// picture's. `width`: the gate's where frames agree on it, else 0.
double room_outwards(const StripFit& fit, const FrameEdges& e, double width) {
    if (fit.place.clear_as_bare) return 0;
    if (!e.left.seen || !e.right.seen) return kBarMm;
    const double widest = width > 0 ? width + kApart : fit.gauge.width + kOddGate * fit.gauge.gate_std;
    return widest - (e.right.at - e.left.at);
}

/// Where a bar hides one end and its inner edge was taken for the other's neighbour: the end a gate's width away is sought inwards. A picture that meets the
/// next one, whose end shows, shows none there.
void look_inwards(const Overview& overview, const SheetLight& light, const StripFit& fit, std::size_t i, Side side, double guard,
                  std::vector<FrameEdges>& edges) {
    constexpr double kStep = 0.3, kLeastShare = 0.6;  // Chosen: mm, share of the end
    const bool left = side == Side::left, outermost = left ? i == 0 : i + 1 == fit.frames.size();
    const bool meets = !outermost && (left ? gap_before(fit, i) : gap_after(fit, i)) < kLeastGapMm;
    if (meets && (left ? edges[i - 1].right.seen : edges[i + 1].left.seen)) return;
    EdgeFit& edge = left ? edges[i].left : edges[i].right;
    const double expected = left ? fit.frames[i].u : fit.frames[i].end();
    for (double by = kStep; by < kBarMm && !edge.seen; by += kStep) {
        const EdgeFit nearer = look_beside(overview, light, fit, i, side, expected, -by, guard);
        const double inwards = left ? nearer.at - expected : expected - nearer.at;
        if (nearer.seen && nearer.share > kLeastShare && std::abs(inwards - by) < kStep) edge = nearer;
    }
}

/// Least squares for all starts and the one width (the last unknown), weights fading for edges that disagree.
class StartEquations {
public:
    StartEquations(const StripFit& fit, const Advance& advance, const Eigen::VectorXd& x) : fit_(fit), advance_(advance), x_(x), n_(x.size() - 1) {
        normal_ = Eigen::MatrixXd::Zero(n_ + 1, n_ + 1);
        right_ = Eigen::VectorXd::Zero(n_ + 1);
    }
    void add_edges(const std::vector<FrameEdges>& edges) {
        for (Eigen::Index i = 0; i < n_; ++i) {
            const FrameEdges& e = edges[static_cast<std::size_t>(i)];
            if (e.left.seen) add_edge(i, e.left.at, e.left.std, false);
            if (e.right.seen) add_edge(i, e.right.at, e.right.std, true);
        }
    }
    void add_advances() {
        const double std = advance_.std;
        for (Eigen::Index i = 1; i < n_; ++i) {
            const double r = (x_(i) - x_(i - 1) - advance_.mean) / std, w = 1 / (std * std) / (1 + r * r / 4);
            normal_(i, i) += w;
            normal_(i - 1, i - 1) += w;
            normal_(i, i - 1) -= w;
            normal_(i - 1, i) -= w;
            right_(i) += w * advance_.mean;
            right_(i - 1) -= w * advance_.mean;
        }
    }
    /// The evidence's own answer holds what no edge holds; good to about half a millimetre. The gate is near its nominal.
    void add_priors() {
        constexpr double kEvidenceStd = 0.5;
        for (Eigen::Index i = 0; i < n_; ++i) {
            const FrameFit& f = fit_.frames[static_cast<std::size_t>(i)];
            const double k = f.placed_by_pitch ? 1e-3 : 1 / (kEvidenceStd * kEvidenceStd);
            normal_(i, i) += k;
            right_(i) += k * f.u;
        }
        const double k = 1 / (fit_.gauge.gate_std * fit_.gauge.gate_std);
        normal_(n_, n_) += k;
        right_(n_) += k * fit_.gauge.width;
    }
    [[nodiscard]] Eigen::VectorXd solve() const { return normal_.ldlt().solve(right_); }
    [[nodiscard]] Eigen::MatrixXd covariance() const { return normal_.inverse(); }

private:
    void add_edge(Eigen::Index i, double at, double std, bool far) {
        const double r = (at - x_(i) - (far ? x_(n_) : 0)) / (std + 0.03);
        const double k = 1 / (std * std * std::pow(1 + r * r / 6, 2));
        normal_(i, i) += k;
        right_(i) += k * at;
        if (!far) return;
        normal_(n_, n_) += k;
        normal_(i, n_) += k;
        normal_(n_, i) += k;
        right_(n_) += k * at;
    }
    const StripFit& fit_;
    const Advance& advance_;
    const Eigen::VectorXd& x_;
    Eigen::Index n_;
    Eigen::MatrixXd normal_;
    Eigen::VectorXd right_;
};

}  // namespace

std::vector<FrameEdges> look_at_ends(const Overview& overview, const SheetLight& light, const StripFit& fit, double guard) {
    std::vector<FrameEdges> edges(fit.frames.size());
    for (std::size_t i = 0; i < fit.frames.size(); ++i) {
        const FrameFit& f = fit.frames[i];
        if (f.placed_by_pitch) continue;
        const auto look = [&](Side side) {
            const EdgeQuery query = end_query(fit, i, side, guard);
            return settle(look_across(overview, light, fit.pose, fit.base, query), query);
        };
        if (!f.cut_start) edges[i].left = look(Side::left);
        if (!f.cut_end) edges[i].right = look(Side::right);
    }
    const Sure sure = sure_frames(fit, edges);
    const bool agreed = std::count(sure.frame.begin(), sure.frame.end(), true) > 1;
    for (std::size_t i = 0; i < fit.frames.size(); ++i) {
        const FrameFit& f = fit.frames[i];
        if (f.placed_by_pitch || (sure.frame[i] && agreed)) continue;
        FrameEdges& e = edges[i];
        const bool left = e.left.seen && e.left.share > kPlainly, right = e.right.seen && e.right.share > kPlainly;
        const double most = room_outwards(fit, e, agreed ? sure.width : 0.0);
        if (left) look_outwards(overview, light, fit, i, Side::left, guard, most, e.left);
        if (right) look_outwards(overview, light, fit, i, Side::right, guard, most, e.right);
        if (left && !e.right.seen && !f.cut_end) look_inwards(overview, light, fit, i, Side::right, guard, edges);
        if (right && !e.left.seen && !f.cut_start) look_inwards(overview, light, fit, i, Side::left, guard, edges);
    }
    return edges;
}

bool return_strays(StripFit& fit, const Overview& overview, const SheetLight& light, double guard) {
    constexpr double kAstray = 0.4, kNear = 0.35;        // Chosen: mm
    constexpr double kShown = 0.3, kPlainlyShown = 0.6;  // Chosen: share of an end that must show where the frame is expected
    const auto even = even_advance(fit);
    if (!even) return false;
    const std::vector<FrameEdges> before = look_at_ends(overview, light, fit, guard);
    const Sure sure = sure_frames(fit, before);
    bool any = false;
    for (std::size_t i = 0; i < fit.frames.size(); ++i) {
        if (even->kept[i] || fit.frames[i].placed_by_pitch || fit.frames[i].cut_start || fit.frames[i].cut_end) continue;
        const auto expected = expected_at(fit, *even, i);
        // With one neighbour only, the frame may lie where it does because the camera slipped: both its ends showing speak for that.
        if (!expected || std::abs(fit.frames[i].u - expected->u) < kAstray || (!expected->from_both && sure.frame[i])) continue;
        StripFit moved = fit;
        moved.frames[i].u = expected->u;
        const FrameEdges ends = look_at_ends(overview, light, moved, guard)[i];
        const double least = expected->from_both ? kShown : kPlainlyShown;
        const bool left = ends.left.seen && ends.left.share > least && std::abs(ends.left.at - expected->u) < kNear;
        const bool right = ends.right.seen && ends.right.share > least && std::abs(ends.right.at - moved.frames[i].end()) < kNear;
        if (!left && !right) continue;
        const double shown_before = std::max(before[i].left.seen ? before[i].left.share : 0, before[i].right.seen ? before[i].right.share : 0);
        if (!expected->from_both && std::abs(fit.frames[i].u - expected->u) > kBarMm && shown_before > kPlainlyShown) continue;
        fit = std::move(moved);
        any = true;
    }
    return any;
}

void solve_starts(StripFit& fit, std::vector<FrameEdges> edges) {
    const Sure sure = sure_frames(fit, edges);
    const std::vector<std::optional<double>> starts = starts_of(fit, edges, sure);
    const Advance advance = measure_advance(fit, starts);
    const std::vector<double> doubt = drop_false_ends(edges, starts, sure, advance);
    const auto n = static_cast<Eigen::Index>(fit.frames.size());
    Eigen::VectorXd x(n + 1);
    for (Eigen::Index i = 0; i < n; ++i) x(i) = fit.frames[static_cast<std::size_t>(i)].u;
    // From the width that most frames show: from the nominal one a bar's inner edge may be the nearest.
    x(n) = sure.width > 0 ? sure.width : fit.frames.front().width;
    Eigen::MatrixXd covariance;
    for (int pass = 0; pass < 20; ++pass) {
        StartEquations equations(fit, advance, x);
        equations.add_edges(edges);
        equations.add_advances();
        equations.add_priors();
        covariance = equations.covariance();
        x = equations.solve();
    }
    for (Eigen::Index i = 0; i < n; ++i) {
        FrameFit& f = fit.frames[static_cast<std::size_t>(i)];
        const FrameEdges& e = edges[static_cast<std::size_t>(i)];
        f.u = x(i);
        f.width = x(n);
        f.u_std = std::hypot(std::sqrt(covariance(i, i)), kEdgeFloorMm);
        // Edges that disagree with the answer count against it.
        double miss = 0;
        if (e.left.seen) miss = std::max(miss, std::min(1.0, e.left.share) * std::abs(e.left.at - f.u));
        if (e.right.seen) miss = std::max(miss, std::min(1.0, e.right.share) * std::abs(e.right.at - f.end()));
        if (!e.left.seen || !e.right.seen) miss = std::max(miss, doubt[static_cast<std::size_t>(i)]);
        // And so does a gate that no camera has.
        const double odd = std::max(0.0, std::abs(f.width - fit.gauge.width) - kOddGate * fit.gauge.gate_std);
        f.u_std = std::hypot(std::hypot(f.u_std, 0.7 * miss), odd);
        f.left_share = e.left.share;
        f.right_share = e.right.share;
        f.placed_by_pitch = f.placed_by_pitch || (f.dark && !e.left.seen && !e.right.seen);
    }
}

}  // namespace basefog::frames
