// SPDX-License-Identifier: GPL-3.0-or-later
// All shots of a strip at once: where each lies, the lens they share and the lattice of perforations, by least squares.
#include "basefog/frames/register_shots.h"

#include "bending.h"
#include "robust.h"
#include "shot_falloff.h"

#include <Eigen/Dense>

#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <numeric>
#include <utility>

namespace basefog {
namespace {

using namespace frames;

// What lenses and copy stands do, before anything was seen: one sigma. Chosen; the lens' as in measure_lens.
constexpr double kUsualK1 = 0.05, kUsualK2 = 0.015, kUsualScale = 0.02, kUsualTurn = 0.05;
/// A hole's place: cut to .01 mm [SMPTE139], told to a tenth of a pixel or so; of a pitch. Chosen.
constexpr double kHoleStd = 0.004;
/// How far the middle of one shot's length of film bows from the line between its ends, half diagonals. Chosen.
constexpr double kUsualBow = 0.004;
constexpr double kHeld = 3;  ///< residuals beyond so many deviations are held back
constexpr double kSure = 4, kLeastBent = 0.0004;

struct Layout {
    Eigen::Index shots = 0, lattice = 0, size = 0;
    bool has_lattice = false;
};

/// Unknowns: k1, k2; of each shot but the first log scale, angle and shift; of the lattice its place, angle, log pitch, the way between rows, and bow.
/// Lengths count in half diagonals of a shot.
class Fit {
public:
    Fit(const std::vector<ShotHoles>& holes, const std::vector<ShotMatch>& matches, std::int64_t width, std::int64_t height)
        : holes_(holes), matches_(matches), width_(width), height_(height), half_(0.5 * std::hypot(static_cast<double>(width), static_cast<double>(height))) {
        places_.resize(holes.size());
        x_ = Eigen::VectorXd::Zero(2 + 4 * static_cast<Eigen::Index>(holes.size() - 1));
        Similarity chain;
        for (std::size_t i = 1; i < holes.size(); ++i) {
            chain = chain.after(matches[i - 1].second_to_first);
            set_place(i, chain);
        }
        number_holes();
        if (reference_ < 0) return;
        const Eigen::Index at = x_.size();
        x_.conservativeResize(at + 6);
        lattice_ = at;
        const auto r = static_cast<std::size_t>(reference_);
        const Similarity here = place(x_, r);
        const ShotHoles& h = holes[r];
        const PointPx along = turned_only(here, h.along), first = here.at(h.at.front());
        x_.segment(at, 6) << first.x / half_, first.y / half_, std::atan2(along.y, along.x), std::log(h.pitch_px * here.scale() / half_), 0, 0;
        for (std::size_t i = holes.size(); i-- > 0;)  // a shot may show but one row
            if (const double apart = rows_apart(holes[i]); apart != 0) x_[at + 4] = apart * place(x_, i).scale() / half_;
        first_row_ = h.row.front();
        first_place_ = places_[r].front();
    }

    void solve() {
        constexpr int kSteps = 25;
        Eigen::VectorXd r = residuals(x_);
        double now = cost(r), damp = 1e-4;
        for (int step = 0; step < kSteps; ++step) {
            const Eigen::MatrixXd j = slopes(r);
            const Eigen::VectorXd w = weights(r);
            normal_ = j.transpose() * w.asDiagonal() * j;
            const Eigen::VectorXd right = -(j.transpose() * (w.asDiagonal() * r));
            bool better = false;
            for (int tries = 0; tries < 8 && !better; ++tries, damp *= 8) {
                Eigen::MatrixXd held = normal_;
                held.diagonal() *= 1 + damp;
                const Eigen::VectorXd moved = x_ + held.ldlt().solve(right);
                if (!is_sound({moved[0], moved[1]})) continue;
                const Eigen::VectorXd then_r = residuals(moved);
                const double then = cost(then_r);
                if (!(then < now)) continue;
                better = true;
                damp /= 40;
                const double gain = now - then;
                x_ = moved, r = then_r, now = then;
                if (gain < 1e-7 * (1 + now)) return;
            }
            if (!better) return;
        }
    }

    [[nodiscard]] LensModel lens() const { return {x_[0], x_[1]}; }
    /// Whether the lens was told by more than chance.
    [[nodiscard]] bool lens_sure() const {
        if (normal_.rows() < 2) return false;
        const Eigen::MatrixXd covariance = normal_.ldlt().solve(Eigen::MatrixXd::Identity(normal_.rows(), normal_.cols()));
        const Eigen::Matrix2d c = covariance.topLeftCorner<2, 2>();
        const Eigen::Vector2d k = x_.head<2>();
        return k.dot(c.ldlt().solve(k)) > kSure * kSure;
    }
    [[nodiscard]] Similarity placed(std::size_t shot) const { return place(x_, shot); }
    [[nodiscard]] bool has_lattice() const { return lattice_ >= 0; }
    [[nodiscard]] double pitch() const { return std::exp(x_[lattice_ + 3]) * half_; }
    [[nodiscard]] double lattice_angle() const { return x_[lattice_ + 2]; }
    /// The shots' holes without the light of those that fall into no lattice: they may be none.
    [[nodiscard]] std::vector<ShotHoles> fitted_holes() const {
        std::vector<ShotHoles> out = holes_;
        for (std::size_t i = 0; i < out.size(); ++i)
            if (places_[i].empty()) out[i].light.clear();
        return out;
    }
    [[nodiscard]] int holes_used() const {
        int n = 0;
        for (const std::vector<int>& p : places_) n += static_cast<int>(p.size());
        return n;
    }
    /// Root mean square of those that agree, in pixels.
    [[nodiscard]] double holes_off() const {
        double sum = 0, weight = 0;
        const LensView view(lens(), width_, height_);
        for (std::size_t i = 0; i < holes_.size(); ++i)
            for (std::size_t k = 0; k < places_[i].size(); ++k) {
                const auto [u, v] = off_lattice(x_, view, i, k);
                const double rr = (u * u + v * v) * half_ * half_, s = kHoleStd * pitch() * kHeld, w = 1 / ((1 + rr / (s * s)) * (1 + rr / (s * s)));
                sum += w * rr, weight += w;
            }
        return weight > 0 ? std::sqrt(sum / weight) : 0;
    }
    [[nodiscard]] double ties_off(std::size_t pair) const {
        std::vector<double> off;
        const LensView view(lens(), width_, height_);
        for (const ShotTie& tie : matches_[pair].ties) {
            // Only what it says: along an edge it says nothing.
            const PointPx d = apart(x_, view, pair, tie);
            const double all = tie.xx + tie.yy;
            off.push_back(std::sqrt(std::max(0.0, (tie.xx * d.x * d.x + 2 * tie.xy * d.x * d.y + tie.yy * d.y * d.y) / (0.5 * all))));
        }
        const double middle = median(off);
        double sum = 0, n = 0;
        for (const double o : off)
            if (o < 4 * middle) sum += o * o, n += 1;
        return n > 0 ? std::sqrt(sum / n) : 0;
    }

private:
    static PointPx turned_only(const Similarity& s, PointPx v) { return s.at(v) - s.shift; }
    /// Across the film from the upper to the lower row, in the shot's pixels; 0 where but one is in view.
    [[nodiscard]] static double rows_apart(const ShotHoles& h) {
        const PointPx across{-h.along.y, h.along.x};
        std::array<std::vector<double>, 2> v;
        for (std::size_t i = 0; i < h.at.size(); ++i) v[static_cast<std::size_t>(h.row[i])].push_back(h.at[i].x * across.x + h.at[i].y * across.y);
        return v[0].empty() || v[1].empty() ? 0.0 : median(v[1]) - median(v[0]);
    }
    void set_place(std::size_t shot, const Similarity& s) {
        const Eigen::Index at = 2 + 4 * static_cast<Eigen::Index>(shot - 1);
        x_.segment(at, 4) << std::log(s.scale()), s.angle(), s.shift.x / half_, s.shift.y / half_;
    }
    [[nodiscard]] Similarity place(const Eigen::VectorXd& x, std::size_t shot) const {
        if (shot == 0) return {};
        const Eigen::Index at = 2 + 4 * static_cast<Eigen::Index>(shot - 1);
        const double s = std::exp(x[at]);
        return {s * std::cos(x[at + 1]), s * std::sin(x[at + 1]), {x[at + 2] * half_, x[at + 3] * half_}};
    }
    /// Each shot's holes count on from the nearest before it that shows some; a shot whose holes do not fall into place is left without.
    void number_holes() {
        constexpr double kFallsIn = 0.2;  // of a pitch. Chosen: a shift by half a hole is a mistake of the picture's or of the holes'
        for (std::size_t i = 0; i < holes_.size(); ++i) {
            const ShotHoles& h = holes_[i];
            if (h.at.empty()) continue;
            if (reference_ < 0) {
                reference_ = static_cast<int>(i);
                places_[i] = h.place;
                continue;
            }
            std::size_t before = i - 1;
            while (places_[before].empty()) --before;
            const Similarity here = place(x_, i), there = place(x_, before);
            const PointPx along = turned_only(there, holes_[before].along);
            const double pitch = holes_[before].pitch_px * there.scale() * std::hypot(along.x, along.y) / there.scale();
            std::vector<double> shifts;
            for (std::size_t k = 0; k < h.at.size(); ++k) {
                const PointPx d = here.at(h.at[k]) - there.at(holes_[before].at.front());
                const double u = (d.x * along.x + d.y * along.y) / std::hypot(along.x, along.y);
                shifts.push_back(u / pitch + places_[before].front() - h.place[k]);
            }
            const double shift = median(shifts), whole = std::round(shift);
            if (std::abs(shift - whole) > kFallsIn) continue;
            for (const int p : h.place) places_[i].push_back(p + static_cast<int>(whole));
        }
    }

    [[nodiscard]] PointPx apart(const Eigen::VectorXd& x, const LensView& view, std::size_t pair, const ShotTie& tie) const {
        return place(x, pair).at(view.perfect(tie.first)) - place(x, pair + 1).at(view.perfect(tie.second));
    }
    /// Along and across, in half diagonals.
    [[nodiscard]] std::pair<double, double> off_lattice(const Eigen::VectorXd& x, const LensView& view, std::size_t shot, std::size_t hole) const {
        const auto l = x.segment(lattice_, 6);
        const PointPx p = place(x, shot).at(view.perfect(holes_[shot].at[hole])) * (1 / half_);
        const double c = std::cos(l[2]), s = std::sin(l[2]), dx = p.x - l[0], dy = p.y - l[1], u = c * dx + s * dy, v = c * dy - s * dx;
        const double wanted = std::exp(l[3]) * (places_[shot][hole] - first_place_), across = l[4] * (holes_[shot].row[hole] - first_row_);
        return {u - wanted, v - across - l[5] * u * u};
    }

    [[nodiscard]] Eigen::VectorXd residuals(const Eigen::VectorXd& x) const {
        std::vector<double> r{x[0] / kUsualK1, x[1] / kUsualK2};
        for (std::size_t i = 1; i < holes_.size(); ++i) {
            const Eigen::Index at = 2 + 4 * static_cast<Eigen::Index>(i - 1);
            r.push_back(x[at] / kUsualScale);
            r.push_back(x[at + 1] / kUsualTurn);
        }
        const LensView view({x[0], x[1]}, width_, height_);
        for (std::size_t m = 0; m < matches_.size(); ++m)
            for (const ShotTie& tie : matches_[m].ties) {
                const PointPx d = apart(x, view, m, tie);
                // Root of the inverse covariance, lower triangle.
                const double a = std::sqrt(std::max(tie.xx, 1e-12)), b = tie.xy / a, c = std::sqrt(std::max(tie.yy - b * b, 0.0));
                r.push_back(a * d.x + b * d.y);
                r.push_back(c * d.y);
            }
        if (lattice_ >= 0) {
            const double std = kHoleStd * std::exp(x[lattice_ + 3]);
            for (std::size_t i = 0; i < holes_.size(); ++i)
                for (std::size_t k = 0; k < places_[i].size(); ++k) {
                    const auto [u, v] = off_lattice(x, view, i, k);
                    r.push_back(u / std), r.push_back(v / std);
                }
            r.push_back(x[lattice_ + 5] / kUsualBow);
            r.push_back(x[lattice_ + 4] / 10);  // one row alone says nothing of the other
        }
        return Eigen::Map<const Eigen::VectorXd>(r.data(), static_cast<Eigen::Index>(r.size()));
    }
    [[nodiscard]] static Eigen::VectorXd weights(const Eigen::VectorXd& r) {
        return r.unaryExpr([](double v) {
            const double f = 1 + v * v / (kHeld * kHeld);
            return 1 / (f * f);
        });
    }
    [[nodiscard]] static double cost(const Eigen::VectorXd& r) {
        double sum = 0;
        for (Eigen::Index i = 0; i < r.size(); ++i) sum += r[i] * r[i] / (1 + r[i] * r[i] / (kHeld * kHeld));
        return sum;
    }
    [[nodiscard]] Eigen::MatrixXd slopes(const Eigen::VectorXd& r) const {
        constexpr double kSmall = 1e-6;
        Eigen::MatrixXd j(r.size(), x_.size());
        for (Eigen::Index k = 0; k < x_.size(); ++k) {
            Eigen::VectorXd moved = x_;
            moved[k] += kSmall;
            j.col(k) = (residuals(moved) - r) / kSmall;
        }
        return j;
    }

    const std::vector<ShotHoles>& holes_;
    const std::vector<ShotMatch>& matches_;
    std::int64_t width_, height_;
    double half_;
    std::vector<std::vector<int>> places_;  ///< of each shot's holes, counted through; empty: none that count
    Eigen::VectorXd x_;
    Eigen::MatrixXd normal_;
    Eigen::Index lattice_ = -1;
    int reference_ = -1, first_row_ = 0, first_place_ = 0;
};

/// What of the joined picture a shot covers for sure: its upright inside.
struct Cover {
    double left = -1e18, top = -1e18, right = 1e18, bottom = 1e18;
};
Cover cover_of(const Similarity& to_strip, const LensView& view, std::int64_t width, std::int64_t height) {
    Cover c;
    const auto w = static_cast<double>(width), h = static_cast<double>(height);
    const PointPx middle = to_strip.at({w / 2, h / 2});
    constexpr int kAlong = 24;
    const auto side = [&](PointPx a, PointPx b) {
        double x0 = 1e18, x1 = -1e18, y0 = 1e18, y1 = -1e18;
        for (int i = 0; i <= kAlong; ++i) {
            const double t = static_cast<double>(i) / kAlong;
            const PointPx p = to_strip.at(view.perfect(a * (1 - t) + b * t));
            x0 = std::min(x0, p.x), x1 = std::max(x1, p.x), y0 = std::min(y0, p.y), y1 = std::max(y1, p.y);
        }
        if (x1 - x0 < y1 - y0) {
            if (x0 < middle.x)
                c.left = std::max(c.left, x1);
            else
                c.right = std::min(c.right, x0);
        } else {
            if (y0 < middle.y)
                c.top = std::max(c.top, y1);
            else
                c.bottom = std::min(c.bottom, y0);
        }
    };
    side({0, 0}, {w, 0}), side({w, 0}, {w, h}), side({w, h}, {0, h}), side({0, h}, {0, 0});
    return c;
}

/// Levels that agree with what neighbours share; the middle shot's light stays as it is.
std::vector<Rgb<double>> levels_of(const std::vector<ShotMatch>& matches) {
    std::vector<Rgb<double>> levels(matches.size() + 1, Rgb<double>{1, 1, 1});
    for (int c = 0; c < 3; ++c) {
        std::vector<double> logs{0};
        for (const ShotMatch& m : matches) logs.push_back(logs.back() + std::log(m.level[c]));
        const double middle = median(logs);
        for (std::size_t i = 0; i < logs.size(); ++i) levels[i][c] = std::exp(logs[i] - middle);
    }
    return levels;
}

}  // namespace

JoinedShots join_shots(const std::vector<ShotHoles>& holes, const std::vector<ShotMatch>& matches, std::int64_t width, std::int64_t height,
                       bool light_divided) {
    Fit fit(holes, matches, width, height);
    fit.solve();
    const std::size_t n = holes.size();
    JoinedShots out;
    const auto w = static_cast<double>(width), h = static_cast<double>(height);
    out.lens = fit.lens();
    out.lens_px = bending(out.lens) * 0.5 * std::hypot(w, h);
    out.lens_told = fit.lens_sure() && bending(out.lens) > kLeastBent;
    const LensView view(out.lens, width, height);

    // The way along the strip, to the right or down.
    const PointPx middle{w / 2, h / 2};
    const PointPx way = fit.placed(n - 1).at(middle) - fit.placed(0).at(middle);
    double angle = n > 1 ? std::atan2(way.y, way.x) : w >= h ? 0 : std::acos(0.0);
    if (fit.has_lattice()) angle = fit.lattice_angle(), out.holes = fit.holes_used(), out.holes_off_px = fit.holes_off();
    const double pi = std::acos(-1.0);
    const bool upright = std::abs(std::sin(angle)) > std::abs(std::cos(angle));
    if (upright ? std::sin(angle) < 0 : std::cos(angle) < 0) angle += pi;
    out.direction = upright ? StripDirection::vertical : StripDirection::horizontal;
    // Turned so that it runs down.
    const double turn = pi / 2 - angle;
    const Similarity down{std::cos(turn), std::sin(turn), {}};

    std::vector<Rgb<double>> levels = levels_of(matches);
    if (!light_divided)
        if (auto fall = fit_falloff(fit.fitted_holes(), matches, width, height)) {
            levels = std::move(fall->levels);
            out.join.falloff = fall->falloff, out.falloff_std = fall->std_log10;
        }
    std::vector<Similarity> to_strip;
    std::vector<Cover> covers;
    for (std::size_t i = 0; i < n; ++i) {
        to_strip.push_back(down.after(fit.placed(i)));
        covers.push_back(cover_of(to_strip[i], view, width, height));
    }
    std::vector<std::size_t> order(n);
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return to_strip[a].at(middle).y < to_strip[b].at(middle).y; });
    for (std::size_t i = 1; i + 1 < n; ++i) {
        const bool up = order[i] > order[i - 1], on = order[i + 1] > order[i];
        out.in_order = out.in_order && up == on;
    }
    for (std::size_t m = 0; m + 1 < n; ++m) {
        const Cover &a = covers[m], &b = covers[m + 1];
        JoinedShots::Overlap o;
        o.along_px = std::max(0.0, std::min(a.bottom, b.bottom) - std::max(a.top, b.top));
        o.off_px = fit.ties_off(m);
        o.ties = static_cast<int>(matches[m].ties.size());
        const Similarity pair = fit.placed(m).inverse().after(fit.placed(m + 1));
        o.scale = pair.scale(), o.turned_deg = pair.angle() * 180 / pi;
        o.level = matches[m].level;
        out.overlaps.push_back(o);
    }

    double left = -1e18, right = 1e18;
    for (const Cover& c : covers) left = std::max(left, c.left), right = std::min(right, c.right);
    const double top = std::ceil(covers[order.front()].top), bottom = std::floor(covers[order.back()].bottom);
    left = std::ceil(left), right = std::floor(right);
    out.common_across_px = std::max(0.0, right - left);
    StripJoin& join = out.join;
    join.width = static_cast<std::int64_t>(std::max(0.0, right - left)), join.height = static_cast<std::int64_t>(std::max(0.0, bottom - top));
    for (const std::size_t i : order) {
        Similarity s = to_strip[i];
        s.shift = s.shift - PointPx{left, top};
        join.shots.push_back({static_cast<int>(i), s, levels[i]});
    }
    constexpr double kOfOverlap = 0.45, kOfWay = 0.49;  // Chosen: nearly all of it, and no two seams over each other
    for (std::size_t i = 0; i + 1 < n; ++i) {
        const double from = covers[order[i + 1]].top - top, to = covers[order[i]].bottom - top;
        join.seams.push_back({0.5 * (from + to), std::max(1.0, kOfOverlap * (to - from))});
    }
    for (std::size_t i = 0; i + 1 < join.seams.size(); ++i) {
        const double room = kOfWay * (join.seams[i + 1].at - join.seams[i].at);
        join.seams[i].half = std::max(1.0, std::min(join.seams[i].half, room));
        join.seams[i + 1].half = std::max(1.0, std::min(join.seams[i + 1].half, room));
    }
    if (fit.has_lattice()) join.about = PixelsPerMm(fit.pitch() / 4.75);
    return out;
}

}  // namespace basefog
