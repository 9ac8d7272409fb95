// SPDX-License-Identifier: GPL-3.0-or-later
#include "film_axis.h"

#include "constants.h"
#include "robust.h"

#include <Eigen/Dense>
#include <algorithm>
#include <cmath>
#include <numeric>

namespace basefog::frames {

namespace {

constexpr double kHundredMm = 100;

/// Means of light over `looks` places along one direction, for each place of a line along the other.
std::vector<double> profile_across(const Overview& overview, const SheetLight& light, const StripPlace& place, bool across, double along, double half_along,
                                   double from, double to, double step) {
    const double px = 1 / place.pose.px_per_mm();
    const int looks = std::max(1, static_cast<int>(std::lround(2 * half_along / px)));
    const double middle = 0.5 * (from + to);
    const Gains gains = gains_at(light, place.pose, across ? along : middle, across ? middle : along);
    std::vector<double> out;
    for (double x = from; x <= to + 1e-9; x += step) {
        double sum = 0;
        for (int k = 0; k < looks; ++k) {
            const double a = along + ((k + 0.5) / looks - 0.5) * 2 * half_along;
            sum += across ? mean_light(overview, gains, place.pose, a, x) : mean_light(overview, gains, place.pose, x, a);
        }
        out.push_back(sum / looks);
    }
    return out;
}

/// The film's upper or lower edge, a point per millimetre.
AxisPoints edge_points(const Overview& overview, const SheetLight& light, const StripPlace& place, bool top) {
    constexpr double kReach = 1.2, kHalf = 0.4, kContrast = 0.05;  // mm, mm; light
    const double step = 0.5 / place.pose.px_per_mm(), at = top ? place.v0 : place.v1;
    AxisPoints points;
    for (double u = place.u0 + 1; u < place.u1 - 1; u += 1) {
        const std::vector<double> profile = profile_across(overview, light, place, true, u, kHalf, at - kReach, at + kReach, step);
        const auto crossing = half_crossing(profile, at - kReach, step);
        if (!crossing || (top ? -crossing->contrast : crossing->contrast) < kContrast) continue;
        points.u.push_back(u);
        points.v.push_back(crossing->at);
    }
    return points;
}

/// Where a profile that runs outwards leaves film for bare light, if it does: a holder's opening may end a millimetre further out, in more contrast.
std::optional<double> leaves_for_bare(const std::vector<double>& profile, double step) {
    constexpr double kBare = 0.9, kFall = 0.05, kLeastRun = 0.25;  // Chosen: of bare light; light that film takes at least; mm of bare light
    constexpr double kNear = 0.3, kFar = 0.6;                      // Chosen: mm further in, past the scanner's blur, where the film's own level is
    const auto samples = [&](double mm) { return std::max<std::size_t>(2, static_cast<std::size_t>(mm / step)); };
    const std::size_t run = samples(kLeastRun), near = samples(kNear), far = near + samples(kFar - kNear);
    std::size_t bare = far, n = 0;
    while (bare < profile.size() && n < run) n = profile[bare++] >= kBare ? n + 1 : 0;
    if (n < run || bare < run + far) return std::nullopt;
    std::size_t i = bare - run;
    const auto at = [&](std::size_t k) { return profile.begin() + static_cast<std::ptrdiff_t>(k); };
    const double film = std::accumulate(at(i - far), at(i - near), 0.0) / static_cast<double>(far - near), most = *std::max_element(at(i), at(bare));
    if (film > kBare - kFall) return std::nullopt;
    const double half = 0.5 * (film + most);
    while (i + 1 < bare && profile[i] <= half) ++i;
    while (i > 0 && profile[i - 1] > half) --i;
    if (i == 0 || profile[i] <= half) return std::nullopt;
    return (static_cast<double>(i) - (profile[i] - half) / (profile[i] - profile[i - 1])) * step;
}

/// Where the film ends: the place at which most rows agree. The coarse answer stands where they do not.
double settle_end(const Overview& overview, const SheetLight& light, const StripPlace& place, bool start) {
    constexpr double kReach = 1.5, kHalf = 0.4, kContrast = 0.02;
    const double step = 0.5 / place.pose.px_per_mm(), at = start ? place.u0 : place.u1;
    std::vector<double> ends, weights;
    for (double v = place.v0 + 1; v < place.v1 - 1; v += 1) {
        const std::vector<double> profile = profile_across(overview, light, place, false, v, kHalf, at - kReach, at + kReach, step);
        if (const auto bare = leaves_for_bare(start ? std::vector<double>(profile.rbegin(), profile.rend()) : profile, step)) {
            ends.push_back(start ? at + kReach - *bare : at - kReach + *bare);
        } else {
            const auto crossing = half_crossing(profile, at - kReach, step);
            if (!crossing || std::abs(crossing->contrast) < kContrast) continue;
            ends.push_back(crossing->at);
        }
        weights.push_back(1);
    }
    constexpr double kWindow = 0.2;
    const Mode mode = crowd(ends, weights, kWindow);
    return mode.n >= 5 && mode.share > 0.3 ? mode.at : at;
}

}  // namespace

Gains gains_at(const SheetLight& light, const Pose& pose, double u, double v) {
    const PointPx p = pose.px_from_mm(u, v);
    const std::array<double, 3> bare = light.bare_log(p.x, p.y);
    return {std::pow(10, -bare[0]) / 3, std::pow(10, -bare[1]) / 3, std::pow(10, -bare[2]) / 3};
}

double mean_light(const Overview& overview, const Gains& gains, const Pose& pose, double u, double v) {
    const PointPx p = pose.px_from_mm(u, v);
    const std::int64_t w = overview.pixels.width(), h = overview.pixels.height();
    if (p.x < 0 || p.y < 0 || p.x >= static_cast<double>(w) || p.y >= static_cast<double>(h)) return 0;
    const double x = std::clamp(p.x - 0.5, 0.0, static_cast<double>(w - 1)), y = std::clamp(p.y - 0.5, 0.0, static_cast<double>(h - 1));
    const auto x0 = static_cast<std::int64_t>(x), y0 = static_cast<std::int64_t>(y);
    const std::int64_t x1 = std::min(x0 + 1, w - 1), y1 = std::min(y0 + 1, h - 1);
    const auto at = [&](std::int64_t i, std::int64_t j) {
        const std::array<float, 3> c = clean_light(overview.pixels(i, j));
        return c[0] * gains[0] + c[1] * gains[1] + c[2] * gains[2];
    };
    const double fx = x - static_cast<double>(x0), fy = y - static_cast<double>(y0);
    const double upper = at(x0, y0) + fx * (at(x1, y0) - at(x0, y0)), lower = at(x0, y1) + fx * (at(x1, y1) - at(x0, y1));
    return upper + fy * (lower - upper);
}

std::optional<Crossing> half_crossing(const std::vector<double>& profile, double first, double step) {
    const std::size_t n = profile.size(), end = std::max<std::size_t>(2, n / 6);
    if (n < 6) return std::nullopt;
    const double a = std::accumulate(profile.begin(), profile.begin() + static_cast<std::ptrdiff_t>(end), 0.0) / static_cast<double>(end);
    const double b = std::accumulate(profile.end() - static_cast<std::ptrdiff_t>(end), profile.end(), 0.0) / static_cast<double>(end);
    const double half = 0.5 * (a + b), sign = b > a ? 1 : -1, middle = first + 0.5 * static_cast<double>(n - 1) * step;
    std::optional<Crossing> best;
    for (std::size_t i = 0; i + 1 < n; ++i) {
        const double p = sign * (profile[i] - half), q = sign * (profile[i + 1] - half);
        if (!(p < 0 && q >= 0)) continue;
        const double at = first + (static_cast<double>(i) - p / (q - p)) * step;
        if (!best || std::abs(at - middle) < std::abs(best->at - middle)) best = Crossing{at, b - a};
    }
    return best;
}

std::optional<std::array<Parabola, 2>> fit_rows(const std::array<AxisPoints, 2>& rows, double length, double scale) {
    const std::size_t n = rows[0].u.size() + rows[1].u.size();
    constexpr std::size_t kLeast = 12;
    if (n < kLeast) return std::nullopt;
    std::array<Parabola, 2> fit;
    for (int r = 0; r < 2; ++r) fit[r].at0 = median(rows[r].v);
    Eigen::Matrix4d normal;
    double wide = std::max(scale, 0.02 * length), weight_sum = 0, square = 0;
    for (int pass = 0; pass < 25; ++pass) {
        normal.setZero();
        Eigen::Vector4d right = Eigen::Vector4d::Zero();
        weight_sum = square = 0;
        for (int r = 0; r < 2; ++r) {
            for (std::size_t i = 0; i < rows[r].u.size(); ++i) {
                const double x = rows[r].u[i] / kHundredMm, off = rows[r].v[i] - fit[r].at(rows[r].u[i]);
                const double k = 1 / std::pow(1 + off * off / (wide * wide), 2);
                const Eigen::Vector4d t(r == 0 ? 1 : 0, r == 1 ? 1 : 0, x, x * x);
                normal += k * t * t.transpose();
                right += k * t * rows[r].v[i];
                weight_sum += k;
                square += k * off * off;
            }
        }
        normal.diagonal().array() += 1e-6;
        normal(3, 3) += 1e-3 * weight_sum * std::pow(std::min(1.0, 30 / length), 4);  // a short strip tells little of its bow
        const Eigen::Vector4d solved = normal.ldlt().solve(right);
        for (int r = 0; r < 2; ++r) {
            fit[r].at0 = solved(r);
            fit[r].slope = solved(2) / kHundredMm;
            fit[r].curve = solved(3) / (kHundredMm * kHundredMm);
        }
        wide = std::max(scale, 0.6 * wide);
    }
    const double spread = std::max(0.005, std::sqrt(square / std::max(1.0, weight_sum)));
    const Eigen::Matrix4d covariance = normal.inverse() * spread * spread * 4;  // neighbours share blur and dust
    std::size_t followed = 0;
    for (int r = 0; r < 2; ++r) {
        for (std::size_t i = 0; i < rows[r].u.size(); ++i) followed += std::abs(rows[r].v[i] - fit[r].at(rows[r].u[i])) < 3 * scale ? 1 : 0;
        fit[r].at0_std = std::sqrt(covariance(r, r));
        fit[r].slope_std = std::sqrt(covariance(2, 2)) / kHundredMm;
        fit[r].curve_std = std::sqrt(covariance(3, 3)) / (kHundredMm * kHundredMm);
        fit[r].spread = spread;
    }
    for (Parabola& p : fit) p.followed = static_cast<double>(followed) / static_cast<double>(n);
    return fit;
}

void bend_place(StripPlace& place, const Parabola& axis) {
    place.pose = place.pose.turned(axis.slope, axis.curve);
    place.slope_std = std::max(axis.slope_std, 2e-4);
    place.curve_std = std::max(axis.curve_std, 1e-7);
    place.axis_seen = true;
}

void follow_film_edges(const Overview& overview, const SheetLight& light, StripPlace& place) {
    constexpr double kScale = 0.06, kFollowed = 0.5;  // Chosen: mm a point may be off its parabola; share of points that must not be
    const bool sides[2] = {place.top == Beyond::bare, place.bottom == Beyond::bare};
    for (int pass = 0; pass < 2 && (sides[0] || sides[1]); ++pass) {
        std::array<AxisPoints, 2> rows;
        for (const int r : {0, 1}) {
            if (sides[r]) rows[r] = edge_points(overview, light, place, r == 0);
        }
        const auto fit = fit_rows(rows, place.length(), kScale);
        if (!fit || (*fit)[0].followed < kFollowed) break;
        if (!rows[0].u.empty()) place.v0 = (*fit)[0].at0;
        if (!rows[1].u.empty()) place.v1 = (*fit)[1].at0;
        bend_place(place, (*fit)[0]);
        const double half = 0.5 * place.film_width();
        if (sides[0] && sides[1])
            place.axis_v = 0.5 * (place.v0 + place.v1);
        else if (place.width() < place.film_width() - kWidthSlackMm)
            place.axis_v = sides[0] ? place.v0 + half : place.v1 - half;
        place.axis_std = 0.3;
    }
    if (place.start != Beyond::off_scan) place.u0 = settle_end(overview, light, place, true);
    if (place.end != Beyond::off_scan) place.u1 = settle_end(overview, light, place, false);
}

}  // namespace basefog::frames
