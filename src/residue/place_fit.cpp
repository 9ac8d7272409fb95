// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/place_fit.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace basefog::residue {
namespace {

/// A place's error is taken to be at least this share of its variance: no edge is exactly alike in both.
constexpr double kLeastMisfit = 0.01;

/// Catmull-Rom weights of the four samples about a fraction.
std::array<double, 4> cubic(double t) {
    return {0.5 * t * (-1 + t * (2 - t)), 0.5 * (2 + t * t * (-5 + 3 * t)), 0.5 * t * (1 + t * (4 - 3 * t)), 0.5 * t * t * (t - 1)};
}

}  // namespace

double infrared_at(const Image<LinearRgbi>& pixels, double x, double y) {
    const double fx = std::floor(x), fy = std::floor(y);
    const auto wx = cubic(x - fx), wy = cubic(y - fy);
    double sum = 0;
    for (int j = 0; j < 4; ++j) {
        const std::int64_t row = std::clamp<std::int64_t>(static_cast<std::int64_t>(fy) + j - 1, 0, pixels.height() - 1);
        double line = 0;
        for (int i = 0; i < 4; ++i)
            line += wx[static_cast<std::size_t>(i)] *
                    static_cast<double>(pixels(std::clamp<std::int64_t>(static_cast<std::int64_t>(fx) + i - 1, 0, pixels.width() - 1), row).ir);
        sum += wy[static_cast<std::size_t>(j)] * line;
    }
    return sum;
}

double infrared_contrast(View<const LinearRgbi> pixels, std::int64_t x, std::int64_t y) {
    double sum = 0, squares = 0;
    for (std::int64_t j = y; j < y + kPlace; ++j)
        for (std::int64_t i = x; i < x + kPlace; ++i) {
            const auto v = static_cast<double>(pixels(i, j).ir);
            sum += v;
            squares += v * v;
        }
    constexpr double n = kPlace * kPlace;
    return std::sqrt(std::max(0.0, squares / n - sum / n * (sum / n)));
}

Fit fit_place(const Image<LinearRgbi>& pixels, const Place& place, double dx, double dy, double focus) {
    constexpr int n = kPlace * kPlace;
    std::array<Eigen::Array<double, n, 1>, 5> v;  // infrared, colour, slopes in x and y, colour's curvature
    int k = 0;
    for (std::int64_t y = place.y; y < place.y + kPlace; ++y) {
        for (std::int64_t x = place.x; x < place.x + kPlace; ++x, ++k) {
            const double px = static_cast<double>(x) + dx, py = static_cast<double>(y) + dy;
            v[0][k] = infrared_at(pixels, px, py);
            const double c = static_cast<double>(colour_of(pixels(x, y)));
            v[1][k] = c;
            v[2][k] = infrared_at(pixels, px + 0.5, py) - infrared_at(pixels, px - 0.5, py);
            v[3][k] = infrared_at(pixels, px, py + 0.5) - infrared_at(pixels, px, py - 0.5);
            v[4][k] = static_cast<double>(colour_of(pixels(x - 1, y)) + colour_of(pixels(x + 1, y)) + colour_of(pixels(x, y - 1)) + colour_of(pixels(x, y + 1))) -
                      4 * c;
        }
    }
    v[1] += focus / 2 * v[4];
    for (auto& a : v) a -= a.mean();
    Fit fit;
    const double cc = v[1].square().sum(), ii = v[0].square().sum();
    if (!(cc > 1e-12) || !(ii > 1e-12)) return fit;
    const double gain = (v[0] * v[1]).sum() / cc;
    fit.explained = gain > 0 ? gain * gain * cc / ii : 0;
    const Eigen::Array<double, n, 1> rest = v[0] - gain * v[1];
    fit.misfit = std::max(rest.square().mean(), kLeastMisfit * ii / n);
    for (std::size_t s : {2U, 3U, 4U}) v[s] -= (v[s] * v[1]).sum() / cc * v[1];
    for (int a = 0; a < 2; ++a) {
        fit.right[a] = -(rest * v[static_cast<std::size_t>(2 + a)]).sum();
        for (int b = 0; b < 2; ++b) fit.normal(a, b) = (v[static_cast<std::size_t>(2 + a)] * v[static_cast<std::size_t>(2 + b)]).sum();
    }
    // Infrared softer by a variance w is colour + w / 2 * its curvature.
    const Eigen::Array<double, n, 1> curved = 0.5 * gain * v[4];
    fit.curvature_right = (rest * curved).sum();
    fit.curvature_normal = curved.square().sum();
    return fit;
}

}  // namespace basefog::residue
