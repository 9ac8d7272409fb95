// SPDX-License-Identifier: GPL-3.0-or-later
#include "place.h"

#include "constants.h"
#include "kinds.h"
#include "robust.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <iterator>
#include <numbers>
#include <numeric>

namespace basefog::frames {

namespace {

struct FrameEdges {
    EdgeFit left, right;
};

double clear_before(const std::vector<FrameFit>& frames, std::size_t i, const StripPlace& place) {
    const double end = i == 0 ? place.u0 : frames[i - 1].u + frames[i - 1].width;
    return i == 0 ? frames[i].u - end : 0.5 * (frames[i].u - end);
}
double clear_after(const std::vector<FrameFit>& frames, std::size_t i, const StripPlace& place) {
    const double end = frames[i].u + frames[i].width;
    return i + 1 == frames.size() ? place.u1 - end : 0.5 * (frames[i + 1].u - end);
}

double guard_for(const Pose& pose, double least) { return std::max(least, 2.2 / pose.px_per_mm()); }

/// All points of upper and lower edges, brought to one line by the frame's height.
struct LongEdges {
    std::vector<double> u, top;         ///< from upper edges
    std::vector<double> u_low, bottom;  ///< from lower edges
    std::vector<int> frame, frame_low;
    std::vector<double> weight, weight_low;  ///< by the stretch of edge each point stands for
    double length = 0;                       ///< mm of edge looked at
};

LongEdges look_along(const Overview& overview, const SheetLight& light, const StripFit& fit, double guard) {
    LongEdges out;
    for (std::size_t i = 0; i < fit.frames.size(); ++i) {
        const FrameFit& f = fit.frames[i];
        if (f.placed_by_pitch) continue;
        for (const Side side : {Side::top, Side::bottom}) {
            EdgeQuery query{side, side == Side::top ? f.top : f.top + f.height, f.u + 0.6, f.u + f.width - 0.6, 0.5, guard};
            const EdgePoints points = look_across(overview, light, fit.pose, fit.base, query);
            out.length += query.to - query.from;
            for (const EdgePoint& p : points.points) {
                if (side == Side::top) {
                    out.u.push_back(p.along);
                    out.top.push_back(query.at + p.offset);
                    out.frame.push_back(static_cast<int>(i));
                    out.weight.push_back(points.band / kBandMm);
                } else {
                    out.u_low.push_back(p.along);
                    out.bottom.push_back(query.at - p.offset);
                    out.frame_low.push_back(static_cast<int>(i));
                    out.weight_low.push_back(points.band / kBandMm);
                }
            }
        }
    }
    return out;
}

struct LongFit {
    double at0 = 0, slope = 0, height = 0, std = 0;
    double share = 0, top_share = 0, bottom_share = 0;  ///< of the edges' length that follows the line
};

/// One line and one height through all of them. `start` comes from the evidence; robust weights fade with distance.
LongFit fit_long(const LongEdges& edges, double at0, double height, const FindOptions& options, double scale) {
    LongFit fit{at0, 0, height, kGateStdMm, 0};
    const double gate = kGateStdMm, nominal = options.frame_height.value();
    for (int pass = 0; pass < 20; ++pass) {
        Eigen::Matrix3d normal = Eigen::Matrix3d::Zero();
        Eigen::Vector3d right = Eigen::Vector3d::Zero();
        double agreed = 0, agreed_low = 0, square = 0;
        const auto add = [&](double u, double v, bool low, double weight) {
            const double r = v - (fit.at0 + fit.slope * u + (low ? fit.height : 0));
            const double k = weight / std::pow(1 + r * r / (scale * scale), 2);
            const Eigen::Vector3d t(1, u / 100, low ? 1 : 0);
            normal += k * t * t.transpose();
            right += k * t * v;
            agreed += k;
            agreed_low += low ? k : 0;
            if (std::abs(r) < 3 * scale) {
                square += k * r * r;
            }
        };
        for (std::size_t i = 0; i < edges.u.size(); ++i) add(edges.u[i], edges.top[i], false, edges.weight[i]);
        for (std::size_t i = 0; i < edges.u_low.size(); ++i) add(edges.u_low[i], edges.bottom[i], true, edges.weight_low[i]);
        // Priors worth a few points each: the nominal height, and no turn against the pose.
        const double k = 4 * scale * scale / (gate * gate);
        normal(2, 2) += k;
        right(2) += k * nominal;
        normal(0, 0) += 0.1;
        right(0) += 0.1 * at0;
        normal(1, 1) += 0.1;
        const Eigen::Vector3d solved = normal.ldlt().solve(right);
        fit.at0 = solved(0);
        fit.slope = solved(1) / 100;
        fit.height = solved(2);
        const double per_mm = edges.length > 0 ? kBandMm / edges.length : 0;
        fit.share = agreed * per_mm;
        fit.top_share = 2 * (agreed - agreed_low) * per_mm;
        fit.bottom_share = 2 * agreed_low * per_mm;
        const double spread = agreed > 0 ? std::sqrt(square / agreed) : gate;
        fit.std = std::min(gate, std::hypot(kEdgeFloorMm, spread / std::sqrt(std::max(1.0, agreed * kBandMm / 2))));
        scale = std::max(0.05, 0.85 * scale);
    }
    return fit;
}

/// Frames ride up and down in the gate by some hundredths: each frame's own height, pulled to the common line.
void ride(StripFit& fit, const LongEdges& edges, const LongFit& line) {
    constexpr double kRideStdMm = 0.04;  // Chosen
    for (std::size_t i = 0; i < fit.frames.size(); ++i) {
        std::vector<double> off, off_low;
        double shown = 0;
        for (std::size_t k = 0; k < edges.u.size(); ++k) {
            const double r = edges.top[k] - line.at0 - line.slope * edges.u[k];
            if (edges.frame[k] != static_cast<int>(i) || std::abs(r) > 0.2) continue;
            off.push_back(r);
            shown += edges.weight[k] * kBandMm;
        }
        for (std::size_t k = 0; k < edges.u_low.size(); ++k) {
            const double r = edges.bottom[k] - line.at0 - line.height - line.slope * edges.u_low[k];
            if (edges.frame_low[k] != static_cast<int>(i) || std::abs(r) > 0.2) continue;
            off_low.push_back(r);
            shown += edges.weight_low[k] * kBandMm;
        }
        double sum = 0, weight = 1 / (kRideStdMm * kRideStdMm);
        for (const auto* side : {&off, &off_low}) {
            if (side->size() < 20) continue;
            const double centre = median(*side), std = std::hypot(0.02, spread(*side, centre) / std::sqrt(static_cast<double>(side->size()) / 4));
            sum += centre / (std * std);
            weight += 1 / (std * std);
        }
        const bool seen = off.size() >= 20 || off_low.size() >= 20;
        fit.frames[i].top += sum / weight;
        // Where hardly any of the long edges shows, what shows may be something else.
        const double doubt = kDoubtMm / std::sqrt(std::clamp(line.share, 0.005, 1.0)) - kDoubtMm;
        fit.frames[i].v_std = std::hypot(std::hypot(line.std, seen ? std::sqrt(1 / weight) : kRideStdMm), doubt);
        fit.frames[i].top_share = line.top_share;
        fit.frames[i].bottom_share = line.bottom_share;
        fit.frames[i].long_share = shown / (2 * fit.frames[i].width);
    }
}

std::vector<FrameEdges> look_at_ends(const Overview& overview, const SheetLight& light, const StripFit& fit, double guard) {
    std::vector<FrameEdges> edges(fit.frames.size());
    for (std::size_t i = 0; i < fit.frames.size(); ++i) {
        const FrameFit& f = fit.frames[i];
        if (f.placed_by_pitch) continue;
        const double from = f.top + 0.6, to = f.top + f.height - 0.6;
        const EdgeQuery left{Side::left, f.u, from, to, clear_before(fit.frames, i, fit.place) - 0.1, guard};
        const EdgeQuery right{Side::right, f.u + f.width, from, to, clear_after(fit.frames, i, fit.place) - 0.1, guard};
        edges[i].left = settle(look_across(overview, light, fit.pose, fit.base, left), left);
        edges[i].right = settle(look_across(overview, light, fit.pose, fit.base, right), right);
    }
    return edges;
}

/// Frame starts and the camera's one width together: seen edges, the advance, and the gate's nominal width.
void solve_starts(StripFit& fit, const std::vector<FrameEdges>& edges, const FindOptions& options) {
    const auto n = static_cast<Eigen::Index>(fit.frames.size());
    Eigen::VectorXd x(n + 1);
    for (Eigen::Index i = 0; i < n; ++i) x(i) = fit.frames[static_cast<std::size_t>(i)].u;
    x(n) = fit.frames.front().width;
    Eigen::MatrixXd normal;
    for (int pass = 0; pass < 20; ++pass) {
        normal = Eigen::MatrixXd::Zero(n + 1, n + 1);
        Eigen::VectorXd right = Eigen::VectorXd::Zero(n + 1);
        const auto add = [&](Eigen::Index i, double at, double std, bool far) {
            const double r = (at - x(i) - (far ? x(n) : 0)) / (std + 0.03);
            const double k = 1 / (std * std * std::pow(1 + r * r / 6, 2));
            normal(i, i) += k;
            right(i) += k * at;
            if (!far) return;
            normal(n, n) += k;
            normal(i, n) += k;
            normal(n, i) += k;
            right(n) += k * at;
        };
        for (Eigen::Index i = 0; i < n; ++i) {
            const FrameEdges& e = edges[static_cast<std::size_t>(i)];
            if (e.left.seen) add(i, e.left.at, e.left.std, false);
            if (e.right.seen) add(i, e.right.at, e.right.std, true);
            if (i == 0) continue;
            const double k = 1 / (kAdvanceStdMm * kAdvanceStdMm);
            const double r = (x(i) - x(i - 1) - fit.advance) / kAdvanceStdMm, w = k / (1 + r * r / 4);
            normal(i, i) += w;
            normal(i - 1, i - 1) += w;
            normal(i, i - 1) -= w;
            normal(i - 1, i) -= w;
            right(i) += w * fit.advance;
            right(i - 1) -= w * fit.advance;
        }
        // The evidence's own answer holds what no edge holds; good to about half a millimetre.
        for (Eigen::Index i = 0; i < n; ++i) {
            const FrameFit& f = fit.frames[static_cast<std::size_t>(i)];
            const double k = f.placed_by_pitch ? 1e-3 : 1 / (0.5 * 0.5);
            normal(i, i) += k;
            right(i) += k * f.u;
        }
        const double k = 1 / (kGateStdMm * kGateStdMm);
        normal(n, n) += k;
        right(n) += k * options.frame_width.value();
        x = normal.ldlt().solve(right);
    }
    const Eigen::MatrixXd covariance = normal.inverse();
    for (Eigen::Index i = 0; i < n; ++i) {
        FrameFit& f = fit.frames[static_cast<std::size_t>(i)];
        const FrameEdges& e = edges[static_cast<std::size_t>(i)];
        f.u = x(i);
        f.width = x(n);
        f.u_std = std::hypot(std::sqrt(covariance(i, i)), kEdgeFloorMm);
        // Edges that disagree with the answer count against it.
        double miss = 0;
        if (e.left.seen) miss = std::max(miss, std::min(1.0, e.left.share) * std::abs(e.left.at - f.u));
        if (e.right.seen) miss = std::max(miss, std::min(1.0, e.right.share) * std::abs(e.right.at - f.u - f.width));
        f.u_std = std::hypot(f.u_std, 0.7 * miss);
        f.left_share = e.left.share;
        f.right_share = e.right.share;
        f.placed_by_pitch = f.placed_by_pitch || (f.dark && !e.left.seen && !e.right.seen);
    }
}

/// Slots beyond the first and last frame, as far as the film reaches.
void fill_ends(StripFit& fit, const FindOptions& options) {
    const double least = kLeastBlankShare * options.frame_width.value();
    while (static_cast<int>(fit.frames.size()) < options.max_frames_per_strip) {
        FrameFit next = fit.frames.back();
        next.u += fit.advance;
        if (fit.place.u1 - next.u < least) break;
        fit.frames.push_back(next);
        fit.frames.back().placed_by_pitch = true;
    }
    while (static_cast<int>(fit.frames.size()) < options.max_frames_per_strip) {
        FrameFit next = fit.frames.front();
        next.u -= fit.advance;
        if (next.u + next.width - fit.place.u0 < least) break;
        fit.frames.insert(fit.frames.begin(), next);
        fit.frames.front().placed_by_pitch = true;
    }
    for (FrameFit& f : fit.frames) {
        if (!f.placed_by_pitch) continue;
        f.kind = FrameKind::blank;
        f.left_share = f.right_share = 0;
        f.u_std = 2 * kAdvanceStdMm;
    }
}

/// Frames of which no edge shows and which hold nothing: clear film after all.
void tell_blanks(StripFit& fit, const StripCells& cells, const ClearFilm& clear) {
    for (FrameFit& f : fit.frames) {
        const bool edges = std::max({f.left_share, f.right_share, f.long_share}) > kLeastEdgeShare;
        if (f.kind != FrameKind::picture || edges || holds_picture(cells, f, clear, true)) continue;
        f.kind = FrameKind::blank;
        f.placed_by_pitch = true;
        f.u_std = std::max(f.u_std, kAdvanceStdMm);
    }
}

/// Slots put in by the advance that do hold a picture are looked at again as such.
bool seek_dark_pictures(StripFit& fit, const StripCells& cells, const ClearFilm& clear, const FindOptions& options) {
    constexpr double kReach = 1.5;
    bool any = false;
    for (FrameFit& f : fit.frames) {
        if (!f.placed_by_pitch || !holds_picture(cells, f, clear)) continue;
        const Slot slot = slot_near(cells, fit.place, {f.top, 0, 0.6, f.height - 0.6}, clear.dirty, f.u, kReach, options);
        f.kind = FrameKind::picture;
        f.placed_by_pitch = false;
        f.dark = true;
        f.u = slot.u;
        any = true;
    }
    return any;
}

bool looks_like_film(const StripPlace& place, const StripCells& cells, const FindOptions& options) {
    const double red = cells.base.at(0, 0, 0), blue = cells.base.at(2, 0, 0);
    const bool masked = blue - red > 0.2;
    const bool right_width = place.whole_width_seen() && std::abs(place.width() - options.film_width.value()) < 0.7;
    return cells.base.share > 0.4 && (masked || right_width);
}

void lay_out_blank(StripFit& fit, const FindOptions& options) {
    const double pitch = options.frame_pitch.value(), width = options.frame_width.value();
    fit.no_pictures = true;
    fit.advance = pitch;
    const int n = std::clamp(static_cast<int>(std::floor((fit.place.length() - kLeastBlankShare * width) / pitch)) + 1, 0, options.max_frames_per_strip);
    for (int i = 0; i < n; ++i) {
        FrameFit f;
        f.u = fit.place.u0 + 0.5 * (pitch - width) + i * pitch;
        f.top = 0.5 * (fit.place.v0 + fit.place.v1 - options.frame_height.value());
        f.width = width;
        f.height = options.frame_height.value();
        f.kind = FrameKind::blank;
        f.placed_by_pitch = true;
        f.u_std = pitch / 4;
        f.v_std = 0.5;
        fit.frames.push_back(f);
    }
}

void start_frames(StripFit& fit, const Chain& chain, const TopLine& top, const FindOptions& options) {
    fit.advance = chain.advance;
    fit.frames.clear();
    for (const Slot& slot : chain.slots) {
        FrameFit f;
        f.u = slot.u;
        f.top = top.at0;
        f.width = options.frame_width.value();
        f.height = options.frame_height.value();
        f.placed_by_pitch = !slot.seen;
        f.evidence = slot.evidence;
        fit.frames.push_back(f);
    }
}

void settle_edges(StripFit& fit, const Overview& overview, const SheetLight& light, const FindOptions& options) {
    constexpr double kGuards[] = {0.4, 0.22, 0.18};
    for (const double least : kGuards) {
        const double guard = guard_for(fit.pose, least);
        const LongEdges along = look_along(overview, light, fit, guard);
        const LongFit line = fit_long(along, fit.frames.front().top, fit.frames.front().height, options, std::max(least * 0.7, 1.0 / fit.pose.px_per_mm()));
        for (FrameFit& f : fit.frames) {
            f.top = line.at0;
            f.height = line.height;
        }
        if (least > kGuards[2]) {
            fit.pose = fit.pose.turned(line.slope);
        } else {
            for (FrameFit& f : fit.frames) f.top = line.at0 + line.slope * (f.u + f.width / 2);
            ride(fit, along, line);
        }
        solve_starts(fit, look_at_ends(overview, light, fit, guard), options);
    }
}

}  // namespace

double FrameFit::confidence() const {
    const auto within = [](double std) { return std::erf(kConfidenceMm / (std::max(std, 1e-4) * std::numbers::sqrt2)); };
    // One edge alone may be a line in the picture; two that agree on the gate's size are not.
    const auto trust = [](double one, double other) {
        const double a = std::exp(-one / kSureShare), b = std::exp(-other / kSureShare);
        return 1 - 0.5 * a * b - 0.1 * std::max(a, b);
    };
    return std::clamp(trust(left_share, right_share) * trust(top_share, bottom_share) * within(u_std) * within(v_std), 0.0, 1.0);
}

std::optional<StripFit> fit_strip(const Overview& overview, const SheetLight& light, const StripPlace& place, const FindOptions& options) {
    StripFit fit;
    fit.place = place;
    fit.pose = place.pose;
    StripCells cells = sample_strip(overview, light, place, fit.pose);
    measure_base(cells);
    fit.base = cells.base;
    const double height = options.frame_height.value(), centre = 0.5 * (place.v0 + place.v1);
    Rows rows{centre, 0, -kFirstBandMm, kFirstBandMm};
    Chain chain = find_chain(cells, place, rows, kDirtyShare, options);
    TopLine top{centre - height / 2, 0, 0};
    if (!chain.slots.empty()) {
        top = find_top(cells, place, chain, kDirtyShare, options);
        fit.pose = fit.pose.turned(top.slope);
        cells = sample_strip(overview, light, place, fit.pose);
        measure_base(cells);
        fit.base = cells.base;
    }
    rows = {top.at0, 0, 0.6, height - 0.6};
    const ClearFilm clear = look_at_clear_film(cells, rows, options);
    const Chain better = find_chain(cells, place, rows, clear.dirty, options);
    if (!better.slots.empty()) chain = better;
    if (chain.slots.empty()) {
        if (!looks_like_film(place, cells, options)) return std::nullopt;
        lay_out_blank(fit, options);
        if (fit.frames.empty()) return std::nullopt;
        for (FrameFit& f : fit.frames) f.kind = holds_picture(cells, f, clear) ? FrameKind::picture : FrameKind::blank;
        return fit;
    }
    fit.score = chain.score;
    start_frames(fit, chain, top, options);
    settle_edges(fit, overview, light, options);
    fill_ends(fit, options);
    if (seek_dark_pictures(fit, cells, clear, options)) settle_edges(fit, overview, light, options);
    tell_blanks(fit, cells, clear);
    for (FrameFit& f : fit.frames) tell_kind(cells, f);
    return fit;
}

}  // namespace basefog::frames
