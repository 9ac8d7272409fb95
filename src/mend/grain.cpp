// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/grain.h"

#include "basefog/core/fast_math.h"
#include "basefog/core/units.h"
#include "basefog/core/wide.h"
#include "mend/constants.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>

namespace basefog::mending {
namespace {

int side_of_window(double px_per_mm) {
    constexpr int kLeastSide = 9;
    return std::max(kLeastSide, static_cast<int>(std::lround(kGrainWindowMm * px_per_mm)) | 1);
}

/// Mean of a plane over a window, of the pixels that `weight` counts only.
cv::Mat window_mean(const cv::Mat& plane, const cv::Mat& weight, double px_per_mm) {
    const int side = side_of_window(px_per_mm);
    cv::Mat sum, count;
    cv::boxFilter(plane.mul(weight), sum, CV_32F, cv::Size(side, side));
    cv::boxFilter(weight, count, CV_32F, cv::Size(side, side));
    return sum / cv::max(count, 1e-3);
}

/// Squares of the fine structure; those of a few edges are held back, so that grain decides.
cv::Mat held_squares(const cv::Mat& fine, const cv::Mat& weight, double px_per_mm) {
    const cv::Mat most = kHeldAt * window_mean(cv::abs(fine), weight, px_per_mm);
    cv::Mat squares = fine.mul(fine);
    return cv::min(squares, cv::Mat(most.mul(most)));
}

cv::Mat as_weight(const cv::Mat& where) {
    cv::Mat weight;
    where.convertTo(weight, CV_32F, 1.0 / 255);
    return weight;
}

}  // namespace

int grain_reach(double px_per_mm, int windows) {
    constexpr int kFine = 6;  // the fine structure's own window, the mask's skirt, smoothing and slopes
    return windows * (side_of_window(px_per_mm) / 2) + kFine;
}

namespace {

/// Light to its logarithm to base 10, in place.
BASEFOG_WIDE void logs_of(float* light, int n) {
    constexpr float kNoLight = 1e-7F, kLog2 = static_cast<float>(kLog10Of2);
    for (int x = 0; x < n; ++x) light[x] = kLog2 * fast_log2(light[x] > kNoLight ? light[x] : kNoLight);  // also NaN
}

}  // namespace

cv::Mat fine_structure(View<const LinearRgbi> pixels, float LinearRgbi::*colour, float flare) {
    cv::Mat log(static_cast<int>(pixels.height()), static_cast<int>(pixels.width()), CV_32F), mean;
    for (int y = 0; y < log.rows; ++y) {
        const LinearRgbi* const row = pixels.row(y);
        auto* const out = log.ptr<float>(y);
        for (int x = 0; x < log.cols; ++x) out[x] = row[x].*colour - flare;
        logs_of(out, log.cols);
    }
    cv::boxFilter(log, mean, CV_32F, cv::Size(3, 3));
    return log - mean;
}

cv::Mat grain_about(const cv::Mat& fine, const cv::Mat& mask, double px_per_mm) {
    cv::Mat near;
    cv::dilate(mask, near, cv::Mat::ones(3, 3, CV_8U));
    const cv::Mat weight = as_weight(cv::Mat(near == 0));
    return window_mean(held_squares(fine, weight, px_per_mm), weight, px_per_mm);
}

void quieten(View<LinearRgbi> pixels, const Division& division, const LinearRgbi& flare, double px_per_mm) {
    if (cv::countNonZero(division.where) == 0) return;
    cv::Mat excess_gain;  // square of the gain, less one, and what is wrong at any gain
    cv::exp(division.density * 2 * std::log(10.0), excess_gain);
    excess_gain += kSlipNoise - 1;
    const cv::Mat weight = as_weight(division.where);
    const cv::Mat gain_squares = cv::max(window_mean(excess_gain.mul(excess_gain), weight, px_per_mm), 1e-9);
    for (const auto colour : {&LinearRgbi::r, &LinearRgbi::g, &LinearRgbi::b}) {
        const cv::Mat fine = fine_structure(pixels, colour, flare.*colour), film = grain_about(fine, division.mask, px_per_mm);
        const cv::Mat more = held_squares(fine, weight, px_per_mm) - film;
        const cv::Mat noise = window_mean(more.mul(excess_gain), weight, px_per_mm) / gain_squares;
        for (int y = 0; y < fine.rows; ++y) {
            LinearRgbi* const row = pixels.row(y);
            for (int x = 0; x < fine.cols; ++x) {
                const float grain = film.at<float>(y, x), added = noise.at<float>(y, x) * excess_gain.at<float>(y, x);
                if (!division.where.at<uchar>(y, x) || !(added > 0) || !(grain > 0)) continue;
                const float less = fine.at<float>(y, x) * (1 - std::sqrt(grain / (grain + added)));
                row[x].*colour = (row[x].*colour - flare.*colour) * std::pow(10.0F, -less) + flare.*colour;
            }
        }
    }
}

}  // namespace basefog::mending
