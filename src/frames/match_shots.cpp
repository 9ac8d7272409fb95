// SPDX-License-Identifier: GPL-3.0-or-later
// What two overlapping shots share: roughly by correlation over all ways they could overlap, then closely by the slopes of the picture itself.
#include "basefog/frames/register_shots.h"

#include "edge_profile.h"
#include "light.h"
#include "robust.h"
#include "shot_holes.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <optional>
#include <utility>

namespace basefog {
namespace {

using namespace frames;

// Roughly.
constexpr int kCoarseLongSide = 128;                           // pixels of the coarse picture. Chosen: a fraction of a millimetre each
constexpr double kSmooth = 7;                                  // coarse pixels: what changes more slowly is falloff and says nothing. Chosen
constexpr double kMostDetail = 0.4;                            // density: what stands out further counts as this
constexpr double kLeastOverlap = 0.05;                         // of the shot's length
constexpr double kAside = 0.12;                                // of its width: shots may lie so far off each other across the strip
constexpr double kOfOneMind = 16;                              // coarse pixels whose errors go together. Chosen: what is smoothed over
constexpr double kLeastLikeness = 0.45, kLeastSureness = 5.5;  // worth a closer look, which decides. Measured on drawn strips: neighbours .97 and 24 and more
constexpr double kOpaque = 2.3;                                // density, mean of channels: a holder. Chosen: film with all its dyes stays under it
constexpr double kBare = 0.07;                                 // density above bare light

// Closely.
constexpr int kLevels = 4;  // the coarsest is an eighth
constexpr int kSteps = 8;
constexpr std::size_t kMostPoints = 6000;
constexpr double kSteep = 0.004;     // density a pixel: less is noise
constexpr int kPatch = 28;           // overview pixels
constexpr double kMostShift = 3;     // of a patch, overview pixels
constexpr double kSeen = 0.02;       // density, standard deviation within a patch: enough of a picture to compare. Chosen
constexpr double kMostLeft = 0.5;    // of it, when the other shot's was taken off. Measured on drawn strips: the same film .01 to .06, other film .9 and more
constexpr double kBestStd = 0.06;    // overview pixels; a patch says no more than that
constexpr double kLeastSlopes = 40;  // patch: inverse variance that its weaker direction must have, else only the other counts

cv::Mat as_mat(const Image<float>& image) {
    return {static_cast<int>(image.height()), static_cast<int>(image.width()), CV_32F, const_cast<float*>(image.row(0))};
}
Image<float> as_image(const cv::Mat& m) {
    Image<float> out(m.cols, m.rows);
    for (int y = 0; y < m.rows; ++y) std::copy(m.ptr<float>(y), m.ptr<float>(y) + m.cols, out.row(y));
    return out;
}

/// 1 on film, 0 on what moves otherwise or says nothing: a holder, bare light, and the rows of perforations, which look alike everywhere.
cv::Mat film_mask(const cv::Mat& density, const ShotHoles& holes, int factor, double bare) {
    cv::Mat mask(density.size(), CV_32F, cv::Scalar(1));
    for (int y = 0; y < density.rows; ++y)
        for (int x = 0; x < density.cols; ++x)
            if (const float d = density.at<float>(y, x); d > kOpaque + bare || d < kBare + bare) mask.at<float>(y, x) = 0;
    const int around = std::max(3, density.cols / 60) | 1;
    cv::erode(mask, mask, cv::getStructuringElement(cv::MORPH_RECT, {around, around}));
    if (holes.at.empty()) return mask;
    const PointPx across{-holes.along.y, holes.along.x};
    for (const int row : {0, 1}) {
        std::vector<double> at;
        for (std::size_t i = 0; i < holes.at.size(); ++i)
            if (holes.row[i] == row) at.push_back(holes.at[i].x * across.x + holes.at[i].y * across.y);
        if (at.empty()) continue;
        // A row of which only the left lies "above" when the film stands upright: across points left there.
        const double level = median(at), reach = 0.75 * holes.row_width_px;
        const double centre = 0.5 * factor * (density.cols * across.x + density.rows * across.y);
        const double out = level > centre ? 1 : -1;
        for (int y = 0; y < density.rows; ++y)
            for (int x = 0; x < density.cols; ++x)
                if (const double v = factor * ((x + 0.5) * across.x + (y + 0.5) * across.y); out * (v - level) > -reach) mask.at<float>(y, x) = 0;
    }
    return mask;
}

/// Mean light in the inner half of each hole; 0 where any of it is at the white limit.
std::vector<Rgb<double>> light_in(const Overview& overview, const ShotHoles& holes) {
    constexpr double kWhite = 0.97, kInner = 0.25;  // of full scale; of a hole's width across the film, either way
    std::vector<Rgb<double>> out;
    const double reach = kInner * holes.row_width_px / overview.factor;
    for (const PointPx& at : holes.at) {
        const PointPx p = at * (1.0 / overview.factor);
        const auto from = [](double v) { return std::max<std::int64_t>(0, static_cast<std::int64_t>(std::floor(v))); };
        const std::int64_t x0 = from(p.x - reach), y0 = from(p.y - reach), x1 = std::min(overview.pixels.width(), from(p.x + reach) + 1),
                           y1 = std::min(overview.pixels.height(), from(p.y + reach) + 1);
        Rgb<double> sum;
        double n = 0, most = 0;
        for (std::int64_t y = y0; y < y1; ++y)
            for (std::int64_t x = x0; x < x1; ++x) {
                const LinearRgbi& v = overview.pixels(x, y);
                const std::array<double, 3> light{static_cast<double>(v.r), static_cast<double>(v.g), static_cast<double>(v.b)};
                for (int c = 0; c < 3; ++c) sum[c] += light[static_cast<std::size_t>(c)], most = std::max(most, light[static_cast<std::size_t>(c)]);
                n += 1;
            }
        const bool told = n > 0 && most < kWhite;
        out.push_back(told ? Rgb<double>{sum.r / n, sum.g / n, sum.b / n} : Rgb<double>{});
    }
    return out;
}

/// Bare light's density on the scale of this shot; its clearest, unless it was divided by a light frame.
double bare_of(const cv::Mat& density, bool divided) {
    if (divided) return 0;
    double least = 0;
    cv::minMaxLoc(density, &least, nullptr);
    return least;
}

struct Rough {
    double likeness = 0, sureness = 0;
    int dx = 0, dy = 0;  ///< of the second on the first, coarse pixels
};

Rough correlate(const cv::Mat& a, const cv::Mat& use_a, const cv::Mat& b, const cv::Mat& use_b, int dx, int dy) {
    const int x0 = std::max(0, dx), x1 = std::min(a.cols, b.cols + dx), y0 = std::max(0, dy), y1 = std::min(a.rows, b.rows + dy);
    double n = 0, sa = 0, sb = 0, saa = 0, sbb = 0, sab = 0;
    for (int y = y0; y < y1; ++y) {
        const float *pa = a.ptr<float>(y), *pb = b.ptr<float>(y - dy) - dx, *ua = use_a.ptr<float>(y), *ub = use_b.ptr<float>(y - dy) - dx;
        float rn = 0, ra = 0, rb = 0, raa = 0, rbb = 0, rab = 0;
        for (int x = x0; x < x1; ++x) {
            const float w = ua[x] * ub[x], va = w * pa[x], vb = w * pb[x];
            rn += w, ra += va, rb += vb, raa += va * pa[x], rbb += vb * pb[x], rab += va * pb[x];
        }
        n += static_cast<double>(rn), sa += static_cast<double>(ra), sb += static_cast<double>(rb), saa += static_cast<double>(raa);
        sbb += static_cast<double>(rbb), sab += static_cast<double>(rab);
    }
    Rough out{0, 0, dx, dy};
    constexpr double kLeastPixels = 100, kLeastDetail = 1e-5;  // variance of density: an even overlap says nothing
    if (n < kLeastPixels) return out;
    const double vaa = saa / n - sa * sa / (n * n), vbb = sbb / n - sb * sb / (n * n), vab = sab / n - sa * sb / (n * n);
    if (!(vaa > kLeastDetail && vbb > kLeastDetail)) return out;
    out.likeness = std::clamp(vab / std::sqrt(vaa * vbb), -0.999, 0.999);
    out.sureness = std::atanh(out.likeness) * std::sqrt(std::max(0.0, n / kOfOneMind - 3));
    return out;
}

/// Of the second shot's coarse picture, turned as its perforations are turned against the first's.
cv::Mat turned(const cv::Mat& m, double radians, double scale) {
    if (radians == 0 && scale == 1) return m;
    cv::Mat out;
    const cv::Point2f middle(static_cast<float>(m.cols - 1) / 2, static_cast<float>(m.rows - 1) / 2);
    cv::warpAffine(m, out, cv::getRotationMatrix2D(middle, radians * 180 / CV_PI, scale), m.size(), cv::INTER_LINEAR, cv::BORDER_CONSTANT, cv::Scalar(0));
    return out;
}

struct Turn {
    double angle = 0, scale = 1;  ///< what the second needs to lie like the first
};

Similarity from(const Rough& rough, const Turn& turn, const ShotLook& look) {
    // getRotationMatrix2D turns counter-clockwise as seen, that is from y towards x.
    const double c = turn.scale * std::cos(turn.angle), s = -turn.scale * std::sin(turn.angle);
    const PointPx middle{0.5 * static_cast<double>(look.detail.width()) * look.coarse_px, 0.5 * static_cast<double>(look.detail.height()) * look.coarse_px};
    Similarity out{c, s, {}};
    const PointPx moved = out.at(middle);
    out.shift = middle - moved + PointPx{static_cast<double>(rough.dx * look.coarse_px), static_cast<double>(rough.dy * look.coarse_px)};
    return out;
}

struct Glance {
    Rough rough;
    Turn turn;
};

Glance search(const ShotLook& first, const ShotLook& second) {
    const cv::Mat a = as_mat(first.detail), use_a = as_mat(first.use), b = as_mat(second.detail), use_b = as_mat(second.use);
    const bool told = !first.holes.at.empty() && !second.holes.at.empty();
    std::vector<Turn> turns;
    if (told) {
        const double turn = std::atan2(second.holes.along.y, second.holes.along.x) - std::atan2(first.holes.along.y, first.holes.along.x);
        turns.push_back({turn, first.holes.pitch_px / second.holes.pitch_px});
    } else {
        for (const double degrees : {-3.0, -1.5, 0.0, 1.5, 3.0}) turns.push_back({degrees * CV_PI / 180, 1});
    }
    const bool upright = told && std::abs(first.holes.along.y) > std::abs(first.holes.along.x);
    Glance best;
    const auto consider = [&](const cv::Mat& tb, const cv::Mat& use_tb, const Turn& turn, int dx, int dy) {
        const Rough r = correlate(a, use_a, tb, use_tb, dx, dy);
        if (r.sureness > best.rough.sureness) best = {r, turn};
    };
    for (const Turn& turn : turns) {
        const cv::Mat tb = turned(b, turn.angle, turn.scale), use_tb = turned(use_b, turn.angle, turn.scale);
        for (const bool down : {false, true}) {
            if (told && down != upright) continue;
            const int length = down ? a.rows : a.cols, width = down ? a.cols : a.rows;
            const int most = static_cast<int>(length * (1 - kLeastOverlap)), aside = static_cast<int>(width * kAside);
            for (int along = -most; along <= most; ++along) {
                if (std::abs(along) < length / 16) continue;  // the same place twice is no overlap
                for (int across = -aside; across <= aside; ++across) consider(tb, use_tb, turn, down ? across : along, down ? along : across);
            }
        }
    }
    return best;
}

/// How the second shot lies on the first, lens included as both have the same: k1 of it, which differs from one edge of a shot to the other.
struct Model {
    std::array<double, 5> p{0, 0, 0, 0, 0};  ///< log scale, angle, shift in half diagonals, k1
    [[nodiscard]] Similarity similarity(double half) const {
        const double s = std::exp(p[0]);
        return {s * std::cos(p[1]), s * std::sin(p[1]), {p[2] * half, p[3] * half}};
    }
};

class PairFit {
public:
    PairFit(const ShotLook& first, const ShotLook& second)
        : factor_(first.overview.factor),
          width_(first.overview.scan_width),
          height_(first.overview.scan_height),
          half_(0.5 * std::hypot(static_cast<double>(width_), static_cast<double>(height_))) {
        a_ = densities(first.overview), b_ = densities(second.overview);
        use_a_ = wide_mask(a_, first), use_b_ = wide_mask(b_, second);
        picture_a_ = film_mask(a_, first.holes, factor_, bare_of(a_, first.overview.light_divided));
    }
    [[nodiscard]] double half() const { return half_; }

    /// Place on the second shot (overview pixels, as seen) of one on the first.
    [[nodiscard]] cv::Point2d on_second(cv::Point2d p, const Similarity& first_to_second, const LensView& view) const {
        const PointPx straight = view.perfect({(p.x + 0.5) * factor_, (p.y + 0.5) * factor_}), there = view.seen(first_to_second.at(straight));
        return {there.x / factor_ - 0.5, there.y / factor_ - 0.5};
    }

    void refine(Model& model) const {
        for (int level = kLevels - 1; level >= 0; --level) refine_at(model, level);
    }

    [[nodiscard]] std::vector<ShotTie> ties(const Model& model) const;
    void compare_light(const Model& model, const ShotLook& first, const ShotLook& second, ShotMatch& out) const;

private:
    /// Everything film has, holes' edges too; a holder and what lies beyond the film's ends does not move with it.
    [[nodiscard]] static cv::Mat wide_mask(const cv::Mat& density, const ShotLook& look) {
        const double bare = bare_of(density, look.overview.light_divided);
        cv::Mat mask(density.size(), CV_32F, cv::Scalar(1));
        for (int y = 0; y < density.rows; ++y)
            for (int x = 0; x < density.cols; ++x)
                if (density.at<float>(y, x) > kOpaque + bare) mask.at<float>(y, x) = 0;
        const int around = std::max(3, density.cols / 60) | 1;
        cv::erode(mask, mask, cv::getStructuringElement(cv::MORPH_RECT, {around, around}));
        return mask;
    }
    struct Point {
        cv::Point2d at;
        double value = 0;
    };
    void refine_at(Model& model, int level) const;

    int factor_;
    std::int64_t width_, height_;
    double half_;
    cv::Mat a_, b_, use_a_, use_b_;
    cv::Mat picture_a_;  ///< without perforations, which fit any others
};

cv::Mat detail_of(const cv::Mat& density, double sigma) {
    cv::Mat clipped, smooth;
    cv::min(density, kOpaque + 0.5, clipped);
    cv::GaussianBlur(clipped, smooth, {}, sigma);
    return clipped - smooth;
}

bool within(const cv::Mat& m, cv::Point2d p, double margin) { return p.x >= margin && p.y >= margin && p.x < m.cols - 1 - margin && p.y < m.rows - 1 - margin; }

/// Gauss-Newton over the steepest places that both show, at an overview reduced by 2^level; what does not agree fades.
void PairFit::refine_at(Model& model, int level) const {
    const int n = 1 << level;
    cv::Mat a = a_, b = b_;
    if (level > 0) {
        cv::GaussianBlur(a_, a, {}, 0.45 * n);
        cv::GaussianBlur(b_, b, {}, 0.45 * n);
    }
    a = detail_of(a, 10.0 * n), b = detail_of(b, 10.0 * n);
    cv::Mat slope_x, slope_y;
    cv::Scharr(b, slope_x, CV_32F, 1, 0, 1.0 / 32), cv::Scharr(b, slope_y, CV_32F, 0, 1, 1.0 / 32);
    cv::Mat ax, ay;
    cv::Scharr(a, ax, CV_32F, 1, 0, 1.0 / 32), cv::Scharr(a, ay, CV_32F, 0, 1, 1.0 / 32);
    const double margin = 4.0 * n;
    const auto view_of = [&](const Model& m) { return LensView({m.p[4], 0}, width_, height_); };

    std::vector<Point> points;
    {
        const Similarity back = model.similarity(half_).inverse();
        const LensView view = view_of(model);
        std::vector<std::pair<float, cv::Point>> steep;
        for (int y = static_cast<int>(margin); y < a.rows - margin; y += std::max(1, n / 2))
            for (int x = static_cast<int>(margin); x < a.cols - margin; x += std::max(1, n / 2)) {
                const float s = std::hypot(ax.at<float>(y, x), ay.at<float>(y, x));
                if (s < static_cast<float>(kSteep) / static_cast<float>(n) || use_a_.at<float>(y, x) < 0.5F) continue;
                const cv::Point2d q = on_second(cv::Point2d(x, y), back, view);
                if (!within(b, q, margin) || use_b_.at<float>(static_cast<int>(q.y), static_cast<int>(q.x)) < 0.5F) continue;
                steep.emplace_back(s, cv::Point(x, y));
            }
        // Evenly thinned: the steepest alone would all lie on one edge.
        const std::size_t every = std::max<std::size_t>(1, steep.size() / kMostPoints);
        for (std::size_t i = 0; i < steep.size(); i += every)
            points.push_back({cv::Point2d(steep[i].second), static_cast<double>(a.at<float>(steep[i].second))});
    }
    if (points.size() < 60) return;

    constexpr double kUsualK1 = 0.03, kUsualScale = 0.02, kSmall = 1e-5;
    for (int step = 0; step < kSteps; ++step) {
        const Similarity back = model.similarity(half_).inverse();
        const LensView view = view_of(model);
        std::array<Similarity, 5> backs;
        std::vector<LensView> views;
        for (std::size_t k = 0; k < 5; ++k) {
            Model moved = model;
            moved.p[k] += kSmall;
            backs[k] = moved.similarity(half_).inverse();
            views.push_back(view_of(moved));
        }
        struct Term {
            double r = 0;
            cv::Vec<double, 5> j;
        };
        std::vector<Term> terms;
        std::vector<double> off;
        for (const Point& p : points) {
            const cv::Point2d q = on_second(p.at, back, view);
            if (!within(b, q, 2)) continue;
            Term t;
            t.r = sample(b, q) - p.value;
            const double gx = sample(slope_x, q), gy = sample(slope_y, q);
            for (std::size_t k = 0; k < 5; ++k) {
                const cv::Point2d d = (on_second(p.at, backs[k], views[k]) - q) * (1 / kSmall);
                t.j[static_cast<int>(k)] = gx * d.x + gy * d.y;
            }
            terms.push_back(t);
            off.push_back(t.r);
        }
        if (terms.size() < 60) return;
        const double middle = median(off), scale = std::max(1e-4, spread(off, middle));
        cv::Matx<double, 5, 5> normal = cv::Matx<double, 5, 5>::zeros();
        cv::Vec<double, 5> right = cv::Vec<double, 5>::all(0);
        for (const Term& t : terms) {
            const double r = t.r - middle, fade = 1 / (1 + r * r / (4 * scale * scale)), w = fade * fade / (scale * scale);
            normal += w * t.j * t.j.t();
            right -= w * r * t.j;
        }
        normal(4, 4) += 1 / (kUsualK1 * kUsualK1), right[4] -= model.p[4] / (kUsualK1 * kUsualK1);
        normal(0, 0) += 1 / (kUsualScale * kUsualScale), right[0] -= model.p[0] / (kUsualScale * kUsualScale);
        cv::Vec<double, 5> move;
        if (!cv::solve(normal, right, move, cv::DECOMP_CHOLESKY)) return;
        double most = 0;
        for (int k = 0; k < 5; ++k) most = std::max(most, std::abs(move[k]));
        constexpr double kMostAtOnce = 0.05;
        const double share = std::min(1.0, kMostAtOnce / std::max(most, 1e-12));
        for (std::size_t k = 0; k < 5; ++k) model.p[k] += share * move[static_cast<int>(k)];
        model.p[4] = std::clamp(model.p[4], -0.08, 0.08);
        if (most * half_ / factor_ < 0.003) break;
    }
}

std::vector<ShotTie> PairFit::ties(const Model& model) const {
    const Similarity back = model.similarity(half_).inverse();
    const LensView view({model.p[4], 0}, width_, height_);
    const cv::Mat a = detail_of(a_, 10), b = detail_of(b_, 10);
    cv::Mat slope_x, slope_y;
    cv::Scharr(b, slope_x, CV_32F, 1, 0, 1.0 / 32), cv::Scharr(b, slope_y, CV_32F, 0, 1, 1.0 / 32);
    struct Patch {
        cv::Point2d middle, shift;
        double xx = 0, xy = 0, yy = 0, off = 0, detail = 0;  ///< off, detail: standard deviations of the difference and of what there is
    };
    std::vector<Patch> patches;
    std::vector<double> left;  // of the pictures' detail, patch by patch, when the other shot's is taken off
    constexpr int kHalf = kPatch / 2;
    for (int cy = kHalf + 3; cy < a.rows - kHalf - 3; cy += kPatch)
        for (int cx = kHalf + 3; cx < a.cols - kHalf - 3; cx += kPatch) {
            const cv::Point2d centre = on_second(cv::Point2d(cx, cy), back, view);
            if (!within(b, centre, kHalf + 6)) continue;
            // The model is a similarity as near as nothing within a patch: its middle and two neighbours tell it.
            const cv::Point2d ex = (on_second(cv::Point2d(cx + kHalf, cy), back, view) - centre) * (1.0 / kHalf),
                              ey = (on_second(cv::Point2d(cx, cy + kHalf), back, view) - centre) * (1.0 / kHalf);
            Patch patch{{static_cast<double>(cx), static_cast<double>(cy)}, {}};
            bool good = true;
            for (int step = 0; step < 4 && good; ++step) {
                double n = 0, sr = 0, sx = 0, sy = 0, sxx = 0, sxy = 0, syy = 0, sxr = 0, syr = 0, srr = 0, sv = 0, svv = 0;
                for (int y = -kHalf; y < kHalf; ++y)
                    for (int x = -kHalf; x < kHalf; ++x) {
                        const cv::Point2d q = centre + ex * x + ey * y + patch.shift;
                        if (use_a_.at<float>(cy + y, cx + x) < 0.5F || !within(b, q, 1) ||
                            use_b_.at<float>(static_cast<int>(q.y), static_cast<int>(q.x)) < 0.5F)
                            continue;
                        const double v = sample(b, q), r = v - static_cast<double>(a.at<float>(cy + y, cx + x)), gx = sample(slope_x, q),
                                     gy = sample(slope_y, q);
                        n += 1, sr += r, sx += gx, sy += gy, sxx += gx * gx, sxy += gx * gy, syy += gy * gy, sxr += gx * r, syr += gy * r, srr += r * r,
                            sv += v, svv += v * v;
                    }
                if (n < kPatch * kPatch / 3.0) {
                    good = false;
                    break;
                }
                // Less the mean: a patch may be lighter in one shot.
                const double xx = sxx - sx * sx / n, xy = sxy - sx * sy / n, yy = syy - sy * sy / n, xr = sxr - sx * sr / n, yr = syr - sy * sr / n;
                patch.off = std::sqrt(std::max(0.0, srr / n - sr * sr / (n * n)));
                patch.detail = std::sqrt(std::max(0.0, svv / n - sv * sv / (n * n)));
                patch.xx = xx, patch.xy = xy, patch.yy = yy;
                // Held where it says nothing: along an edge.
                const double hold = 1e-3 * (xx + yy) + 1e-9, det = (xx + hold) * (yy + hold) - xy * xy;
                const cv::Point2d move{-((yy + hold) * xr - xy * yr) / det, -((xx + hold) * yr - xy * xr) / det};
                patch.shift += move;
                good = cv::norm(patch.shift) < kMostShift;
                if (cv::norm(move) < 0.003) break;
            }
            if (patch.detail > kSeen && picture_a_.at<float>(cy, cx) > 0.5F) left.push_back(good ? patch.off / patch.detail : 1);
            if (good) patches.push_back(patch);
        }
    std::vector<double> offs;
    for (const Patch& p : patches) offs.push_back(p.off);
    const double usual = std::max(1e-4, median(offs));
    // The same film differs by its noise alone; any two others by as much as there is.
    if (left.empty() || median(left) > kMostLeft) return {};
    std::vector<ShotTie> out;
    for (const Patch& p : patches) {
        if (p.off > 3 * usual) continue;
        // Inverse covariance: slopes over the noise; neighbouring pixels share theirs by smoothing.
        constexpr double kShared = 8;
        const double k = 1 / (std::max(p.off, usual) * std::max(p.off, usual) * kShared);
        double xx = k * p.xx, xy = k * p.xy, yy = k * p.yy;
        const double mean = 0.5 * (xx + yy), half = std::hypot(0.5 * (xx - yy), xy), large = mean + half, small = std::max(mean - half, 0.0);
        if (large < kLeastSlopes) continue;
        // Neither direction says more than kBestStd; one that hardly says anything says nothing.
        const double most = 1 / (kBestStd * kBestStd), l = large / (1 + large / most), s = small < kLeastSlopes / 10 ? 0 : small / (1 + small / most);
        const double angle = 0.5 * std::atan2(2 * xy, xx - yy), c = std::cos(angle), d = std::sin(angle);
        const double per = 1.0 / (factor_ * factor_);
        const cv::Point2d q = on_second(p.middle, back, view) + p.shift;
        out.push_back({{(p.middle.x + 0.5) * factor_, (p.middle.y + 0.5) * factor_},
                       {(q.x + 0.5) * factor_, (q.y + 0.5) * factor_},
                       per * (l * c * c + s * d * d),
                       per * (l - s) * c * d,
                       per * (l * d * d + s * c * c)});
    }
    return out;
}

/// The middle of the proportions of places that both saw well, away from edges.
void PairFit::compare_light(const Model& model, const ShotLook& first, const ShotLook& second, ShotMatch& out) const {
    const Similarity back = model.similarity(half_).inverse();
    const LensView view({model.p[4], 0}, width_, height_);
    std::array<std::vector<double>, 3> logs;
    constexpr int kEvery = 4, kMostRise = 3;
    constexpr std::size_t kMostPlaces = 400;
    std::vector<ShotMatch::Place> places;
    constexpr float kDarkest = 0.002F, kBrightest = 0.9F;
    for (int y = 4; y < a_.rows - 4; y += kEvery)
        for (int x = 4; x < a_.cols - 4; x += kEvery) {
            const cv::Point2d q = on_second(cv::Point2d(x, y), back, view);
            if (!within(b_, q, 4) || use_a_.at<float>(y, x) < 0.5F || use_b_.at<float>(static_cast<int>(q.y), static_cast<int>(q.x)) < 0.5F) continue;
            constexpr float kSteepest = 0.05F;
            if (std::abs(a_.at<float>(y, x + kMostRise) - a_.at<float>(y, x - kMostRise)) > kSteepest ||
                std::abs(a_.at<float>(y + kMostRise, x) - a_.at<float>(y - kMostRise, x)) > kSteepest)
                continue;
            const PointPx at_a{x + 0.5, y + 0.5}, at_b{q.x + 0.5, q.y + 0.5};
            ShotMatch::Place place{at_a * factor_, at_b * factor_, {}};
            int told = 0;
            for (int c = 0; c < 3; ++c) {
                std::array<float, 3> one{};
                one[static_cast<std::size_t>(c)] = 1;
                const float la = light_at(first.overview, at_a, one), lb = light_at(second.overview, at_b, one);
                if (!(la > kDarkest && lb > kDarkest && la < kBrightest && lb < kBrightest)) continue;
                place.ratio[c] = static_cast<double>(lb / la);
                logs[static_cast<std::size_t>(c)].push_back(std::log(place.ratio[c]));
                ++told;
            }
            if (told == 3) places.push_back(place);
        }
    const std::size_t every = 1 + places.size() / kMostPlaces;
    for (std::size_t i = 0; i < places.size(); i += every) out.places.push_back(places[i]);
    for (int c = 0; c < 3; ++c) {
        std::vector<double>& l = logs[static_cast<std::size_t>(c)];
        if (l.size() < 50) continue;
        const double middle = median(l);
        out.level[c] = std::exp(middle);
        out.level_std = std::max(out.level_std, spread(l, middle) / std::log(10.0));
    }
}

}  // namespace

ShotLook look_at_shot(Overview overview) {
    ShotLook look;
    const cv::Mat density = densities(overview);
    look.holes = find_holes(density, overview.factor);
    const double bare = bare_of(density, overview.light_divided);
    const cv::Mat mask = film_mask(density, look.holes, overview.factor, bare);
    const int step = std::max(1, std::max(density.cols, density.rows) / kCoarseLongSide);
    const cv::Size size(density.cols / step, density.rows / step);
    const cv::Rect whole(0, 0, size.width * step, size.height * step);
    cv::Mat small, use, weight, smooth;
    cv::resize(density(whole), small, size, 0, 0, cv::INTER_AREA);
    cv::resize(mask(whole), use, size, 0, 0, cv::INTER_AREA);
    // Surroundings of what is film only.
    cv::GaussianBlur(small.mul(use), smooth, {}, kSmooth);
    cv::GaussianBlur(use, weight, {}, kSmooth);
    cv::Mat detail = small - smooth / (weight + 1e-3);
    detail = cv::max(cv::min(detail, kMostDetail), -kMostDetail);
    look.detail = as_image(detail);
    look.use = as_image(use);
    look.coarse_px = step * overview.factor;
    if (!overview.light_divided) look.holes.light = light_in(overview, look.holes);
    look.overview = std::move(overview);
    return look;
}

ShotMatch glance(const ShotLook& first, const ShotLook& second) {
    ShotMatch out;
    if (first.detail.width() != second.detail.width() || first.detail.height() != second.detail.height()) return out;
    const Glance g = search(first, second);
    out.likeness = g.rough.likeness, out.sureness = g.rough.sureness;
    out.found = g.rough.likeness > kLeastLikeness && g.rough.sureness > kLeastSureness;
    out.second_to_first = from(g.rough, g.turn, first);
    return out;
}

ShotMatch match_shots(const ShotLook& first, const ShotLook& second) {
    ShotMatch out = glance(first, second);
    if (!out.found) return out;
    const PairFit fit(first, second);
    const Similarity& rough = out.second_to_first;
    Model model;
    model.p = {std::log(rough.scale()), rough.angle(), rough.shift.x / fit.half(), rough.shift.y / fit.half(), 0};
    fit.refine(model);
    out.second_to_first = model.similarity(fit.half());
    out.ties = fit.ties(model);
    constexpr std::size_t kLeastTies = 6;
    out.found = out.ties.size() >= kLeastTies;
    fit.compare_light(model, first, second, out);
    return out;
}

}  // namespace basefog
