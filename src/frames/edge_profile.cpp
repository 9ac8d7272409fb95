// SPDX-License-Identifier: GPL-3.0-or-later
#include "edge_profile.h"

#include "light.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace basefog::frames {

cv::Mat densities(const Overview& overview) {
    cv::Mat out(static_cast<int>(overview.pixels.height()), static_cast<int>(overview.pixels.width()), CV_32F);
    constexpr float kLeast = 1e-4F;
    for (int y = 0; y < out.rows; ++y)
        for (int x = 0; x < out.cols; ++x) {
            const std::array<float, 3> p = clean_light(overview.pixels(x, y));
            out.at<float>(y, x) = -(std::log10(std::max(p[0], kLeast)) + std::log10(std::max(p[1], kLeast)) + std::log10(std::max(p[2], kLeast))) / 3;
        }
    cv::GaussianBlur(out, out, {}, 1.0);
    return out;
}

double sample(const cv::Mat& m, cv::Point2d p) {
    const double x = std::clamp(p.x, 0.0, m.cols - 1.001), y = std::clamp(p.y, 0.0, m.rows - 1.001);
    const int i = static_cast<int>(x), j = static_cast<int>(y);
    const double u = x - i, v = y - j;
    const auto at = [&](int r, int c) { return static_cast<double>(m.at<float>(r, c)); };
    return (at(j, i) * (1 - u) + at(j, i + 1) * u) * (1 - v) + (at(j + 1, i) * (1 - u) + at(j + 1, i + 1) * u) * v;
}

std::optional<double> crossing(const cv::Mat& density, cv::Point2d from, cv::Point2d along, cv::Point2d inwards, double piece, double reach) {
    const int n = 2 * static_cast<int>(std::ceil(2 * reach)) + 1;
    std::vector<double> profile(static_cast<std::size_t>(n), 0.0);
    const int across = std::max(3, static_cast<int>(piece));
    for (int i = 0; i < n; ++i)
        for (int k = 0; k < across; ++k) {
            const double t = -reach + 2 * reach * i / (n - 1);
            profile[static_cast<std::size_t>(i)] += sample(density, from + along * (piece * (k + 0.5) / across) + inwards * t) / across;
        }
    // The step that parts the profile best into two levels: least squares.
    double total = 0, best = 0;
    for (const double v : profile) total += v;
    int at = -1;
    double left = 0, low = 0, high = 0;
    for (int i = 1; i < n; ++i) {
        left += profile[static_cast<std::size_t>(i - 1)];
        const double a = left / i, b = (total - left) / (n - i), gain = (b - a) * (b - a) * i * (n - i);
        if (b > a && gain > best) best = gain, at = i, low = a, high = b;
    }
    if (at < 0 || high - low < kWholeStep / 2) return std::nullopt;
    // Half-way between the levels beside it, by straight interpolation.
    const int margin = std::max(2, n / 10);
    const auto level = [&](int a, int b) {
        double sum = 0;
        int count = 0;
        for (int i = std::max(0, a); i < std::min(n, b); ++i) sum += profile[static_cast<std::size_t>(i)], ++count;
        return count > 0 ? sum / count : 0.0;
    };
    const double outside = level(at - 3 * margin, at - margin), inside = level(at + margin, at + 2 * margin), half = 0.5 * (outside + inside);
    if (!(inside > outside)) return std::nullopt;
    double where = at - 0.5, nearest = 1e9;
    for (int i = std::max(1, at - margin); i < std::min(n, at + margin); ++i) {
        const double a = profile[static_cast<std::size_t>(i - 1)], b = profile[static_cast<std::size_t>(i)];
        if (!(a <= half && half < b)) continue;
        const double place = i - 1 + (half - a) / (b - a);
        if (std::abs(place - (at - 0.5)) < nearest) nearest = std::abs(place - (at - 0.5)), where = place;
    }
    return -reach + 2 * reach * where / (n - 1);
}

}  // namespace basefog::frames
