// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/registration.h"

#include "residue/place_fit.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <array>
#include <cmath>
#include <limits>
#include <vector>

namespace basefog::residue {
namespace {

/// Furthest shift looked for, overview pixels. Chosen: beyond what a scanner's second exposure is off by.
constexpr int kReach = 4;
/// Room around a place for the shift, its refinement and the interpolation's taps.
constexpr int kRoom = kReach + 4;
constexpr std::size_t kMostPlaces = 2000, kCoarsePlaces = 250;
/// Prior standard deviation of the change of shift from the sheet's centre to its edge, overview pixels.
constexpr double kStretchStd = 0.7;
constexpr int kRounds = 6;
/// Largest focus difference undone, overview pixels squared: sharpening more would amplify noise.
constexpr double kMostSharpened = 0.6;

std::vector<Place> find_places(const Image<LinearRgbi>& pixels) {
    std::vector<Place> places;
    for (std::int64_t y = kRoom; y + kPlace + kRoom < pixels.height(); y += kPlace) {
        for (std::int64_t x = kRoom; x + kPlace + kRoom < pixels.width(); x += kPlace) {
            const double contrast = infrared_contrast(pixels.view(), x, y);
            if (contrast > kLeastContrast) places.push_back({x, y, contrast});
        }
    }
    return places;
}

/// Every so many, so that at most `most` are left, spread over the sheet.
std::vector<Place> thinned(const std::vector<Place>& places, std::size_t most) {
    const std::size_t every = std::max<std::size_t>(1, (places.size() + most - 1) / most);
    std::vector<Place> few;
    for (std::size_t i = 0; i < places.size(); i += every) few.push_back(places[i]);
    return few;
}

/// The whole-pixel shift at which colour explains infrared best.
std::array<int, 2> coarse_shift(const Image<LinearRgbi>& pixels, const std::vector<Place>& places) {
    std::array<int, 2> best{0, 0};
    double most = -1;
    for (int dy = -kReach; dy <= kReach; ++dy) {
        for (int dx = -kReach; dx <= kReach; ++dx) {
            double total = 0;
            for (const Place& place : places) {
                double i1 = 0, i2 = 0, c1 = 0, c2 = 0, ic = 0;
                constexpr double n = kPlace * kPlace;
                for (std::int64_t y = place.y; y < place.y + kPlace; ++y)
                    for (std::int64_t x = place.x; x < place.x + kPlace; ++x) {
                        const auto i = static_cast<double>(pixels(x + dx, y + dy).ir), c = static_cast<double>(colour_of(pixels(x, y)));
                        i1 += i;
                        i2 += i * i;
                        c1 += c;
                        c2 += c * c;
                        ic += i * c;
                    }
                const double covariance = ic - i1 * c1 / n, spread = (i2 - i1 * i1 / n) * (c2 - c1 * c1 / n);
                if (covariance > 0 && spread > 0) total += covariance * covariance / spread;
            }
            if (total > most) {
                most = total;
                best = {dx, dy};
            }
        }
    }
    return best;
}

struct Refined {
    Eigen::Matrix<double, 6, 1> shift = Eigen::Matrix<double, 6, 1>::Zero();  ///< at the centre, then its change to the edge: xx, xy, yx, yy
    double std_uncertainty = 0, focus = 0;
    int used = 0;
};

/// Gauss-Newton over all places together; each weighs by what it tells and how well colour explains it.
Refined refine(const Image<LinearRgbi>& pixels, const std::vector<Place>& places, std::array<int, 2> start) {
    Refined r;
    r.shift[0] = start[0];
    r.shift[1] = start[1];
    const double half_w = static_cast<double>(pixels.width()) / 2, half_h = static_cast<double>(pixels.height()) / 2;
    for (int round = 0; round < kRounds; ++round) {
        Eigen::Matrix<double, 6, 6> normal = Eigen::Matrix<double, 6, 6>::Zero();
        Eigen::Matrix<double, 6, 1> right = Eigen::Matrix<double, 6, 1>::Zero();
        double curvature_right = 0, curvature_normal = 1e-12;
        r.used = 0;
        for (const Place& place : places) {
            const double u = (static_cast<double>(place.x) + kPlace / 2.0) / half_w - 1, v = (static_cast<double>(place.y) + kPlace / 2.0) / half_h - 1;
            const double dx = r.shift[0] + r.shift[2] * u + r.shift[3] * v, dy = r.shift[1] + r.shift[4] * u + r.shift[5] * v;
            if (std::abs(dx) > kReach + 1 || std::abs(dy) > kReach + 1) continue;
            const Fit fit = fit_place(pixels, place, dx, dy, r.focus);
            if (fit.explained < kLeastExplained) continue;
            ++r.used;
            Eigen::Matrix<double, 2, 6> to;
            to << 1, 0, u, v, 0, 0, 0, 1, 0, 0, u, v;
            normal += to.transpose() * fit.normal * to / fit.misfit;
            right += to.transpose() * fit.right / fit.misfit;
            curvature_right += fit.curvature_right / fit.misfit;
            curvature_normal += fit.curvature_normal / fit.misfit;
        }
        normal /= kTogether;
        right /= kTogether;
        for (int i = 0; i < 6; ++i) normal(i, i) += i < 2 ? 1e-6 : 1 / (kStretchStd * kStretchStd);
        for (int i = 2; i < 6; ++i) right[i] -= r.shift[i] / (kStretchStd * kStretchStd);
        const Eigen::Matrix<double, 6, 6> covariance = normal.ldlt().solve(Eigen::Matrix<double, 6, 6>::Identity());
        r.shift += covariance * right;
        r.std_uncertainty = std::sqrt(std::max(covariance(0, 0), covariance(1, 1)));
        r.focus += curvature_right / curvature_normal;
    }
    return r;
}

}  // namespace

InfraredMatch match_infrared(const Overview& overview) {
    InfraredMatch match;
    match.centre_x = static_cast<double>(overview.scan_width) / 2;
    match.centre_y = static_cast<double>(overview.scan_height) / 2;
    const double f = overview.factor;
    // Nothing to tell it from: second exposures lie within a pixel or so.
    match.std_uncertainty = f;
    const std::vector<Place> all = find_places(overview.pixels);
    if (all.size() < kFewestPlaces) return match;
    const Refined r = refine(overview.pixels, thinned(all, kMostPlaces), coarse_shift(overview.pixels, thinned(all, kCoarsePlaces)));
    const bool sane = r.used >= static_cast<int>(kFewestPlaces) && r.shift.allFinite() && r.shift.cwiseAbs().maxCoeff() < kReach + 1;
    if (!sane) return match;
    const double half_w = static_cast<double>(overview.pixels.width()) / 2, half_h = static_cast<double>(overview.pixels.height()) / 2;
    match.shift_x = f * r.shift[0];
    match.shift_y = f * r.shift[1];
    match.stretch = {r.shift[2] / half_w, r.shift[3] / half_h, r.shift[4] / half_w, r.shift[5] / half_h};
    match.std_uncertainty = f * std::hypot(r.std_uncertainty, kSharedErrorPx);
    match.focus = f * f * r.focus;
    match.places = r.used;
    return match;
}

float matched_infrared(const Overview& overview, const InfraredMatch& match, std::int64_t x, std::int64_t y) {
    const double f = overview.factor;
    const PointPx here{(static_cast<double>(x) + 0.5) * f, (static_cast<double>(y) + 0.5) * f};
    const PointPx there = match.at(here);
    const double px = there.x / f - 0.5, py = there.y / f - 0.5;
    const double value = infrared_at(overview.pixels, px, py);
    const double focus = std::clamp(match.focus / (f * f), -kMostSharpened, kMostSharpened);
    if (focus == 0) return static_cast<float>(value);
    const double curvature = infrared_at(overview.pixels, px - 1, py) + infrared_at(overview.pixels, px + 1, py) + infrared_at(overview.pixels, px, py - 1) +
                             infrared_at(overview.pixels, px, py + 1) - 4 * value;
    return static_cast<float>(value - focus / 2 * curvature);
}

}  // namespace basefog::residue
