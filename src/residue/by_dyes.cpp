// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/by_dyes.h"

#include "residue/constants.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>
#include <optional>

namespace basefog::residue {
namespace {

/// Over what the densities are averaged first. Chosen: smears are wider, grain and most of a picture's detail are narrower.
constexpr double kSpotMm = 0.45;
/// Strips are learnt from when their clear film carries at most this, percent.
constexpr double kCleanEnough = 0.5;
constexpr int kStride = 6;
constexpr std::size_t kFewestPixels = 500;

using Terms = Eigen::Matrix<double, 6, 1>;

/// Mean density of a grey-to-coloured picture as a quadratic of how its channels differ: neutral density changes the mean alone.
Terms terms(double gr, double bg) {
    Terms t;
    t << 1, gr, bg, gr * gr, bg * bg, gr * bg;
    return t;
}

struct Smoothed {
    std::array<cv::Mat, 3> d;
    cv::Mat inside;  ///< CV_8U: picture
};

Smoothed smooth(const StripPlanes& strip) {
    Smoothed s;
    cv::Mat weight, bottom;
    strip.picture.convertTo(weight, CV_32F, 1.0 / 255);
    const double sigma = std::max(0.7, kSpotMm * strip.px_per_mm);
    cv::GaussianBlur(weight, bottom, cv::Size(), sigma);
    for (std::size_t c = 0; c < 3; ++c) {
        cv::GaussianBlur(strip.above_base[c].mul(weight), s.d[c], cv::Size(), sigma);
        s.d[c] /= cv::max(bottom, 1e-3);
    }
    s.inside = strip.picture;
    return s;
}

std::optional<Terms> learn(const StripPlanes& strip) {
    const Smoothed s = smooth(strip);
    Eigen::Matrix<double, 6, 6> normal = Eigen::Matrix<double, 6, 6>::Identity() * 1e-6;
    Terms right = Terms::Zero();
    std::size_t n = 0;
    for (int y = 0; y < s.inside.rows; y += kStride)
        for (int x = 0; x < s.inside.cols; x += kStride) {
            if (!s.inside.at<uchar>(y, x)) continue;
            const double r = s.d[0].at<float>(y, x), g = s.d[1].at<float>(y, x), b = s.d[2].at<float>(y, x);
            const Terms t = terms(g - r, b - g);
            normal += t * t.transpose();
            right += (r + g + b) / 3 * t;
            ++n;
        }
    if (n < kFewestPixels) return std::nullopt;
    return Terms(normal.ldlt().solve(right));
}

/// What the dyes do not explain, in the pictures; far below 0 elsewhere.
cv::Mat unexplained(const StripPlanes& strip, const Terms& model) {
    constexpr float kNowhere = -1e3F;
    const Smoothed s = smooth(strip);
    cv::Mat out(s.inside.size(), CV_32F, cv::Scalar(kNowhere));
    for (int y = 0; y < out.rows; ++y)
        for (int x = 0; x < out.cols; ++x) {
            if (!s.inside.at<uchar>(y, x)) continue;
            const double r = s.d[0].at<float>(y, x), g = s.d[1].at<float>(y, x), b = s.d[2].at<float>(y, x);
            out.at<float>(y, x) = static_cast<float>((r + g + b) / 3 - model.dot(terms(g - r, b - g)));
        }
    return out;
}

/// The value that so large a share of the picture's pixels exceeds.
float exceeded_by(const cv::Mat& excess, const cv::Mat& inside, double share) {
    std::vector<float> values;
    for (int y = 0; y < excess.rows; y += 2)
        for (int x = 0; x < excess.cols; x += 2)
            if (inside.at<uchar>(y, x)) values.push_back(excess.at<float>(y, x));
    if (values.empty()) return 1e3F;
    const auto at = values.begin() + static_cast<std::ptrdiff_t>((1 - share) * static_cast<double>(values.size() - 1));
    std::nth_element(values.begin(), at, values.end());
    return *at;
}

}  // namespace

std::vector<bool> mark_likely_residue(std::vector<StripEvidence>& strips, const Alike& alike, double threshold) {
    std::vector<double> area;
    for (const StripEvidence& e : strips) area.push_back(area_percent(e, threshold));
    std::vector<bool> marked(strips.size(), false);
    for (std::size_t i = 0; i < strips.size(); ++i) {
        StripEvidence& e = strips[i];
        if (e.by_infrared || e.planes.silver || area[i] <= kTraceAreaPercent) continue;
        std::optional<std::size_t> teacher;
        for (std::size_t j = 0; j < strips.size(); ++j) {
            if (j == i || strips[j].planes.silver || !alike[i][j] || area[j] > kCleanEnough) continue;
            if (!teacher || area[j] < area[*teacher]) teacher = j;
        }
        if (!teacher) continue;
        const std::optional<Terms> model = learn(strips[*teacher].planes);
        if (!model) continue;
        const cv::Mat excess = unexplained(e.planes, *model);
        const float limit = std::max(static_cast<float>(threshold), exceeded_by(excess, e.planes.picture, std::min(1.0, area[i] / 100)));
        e.likely = (excess > limit) & e.planes.picture;
        marked[i] = cv::countNonZero(e.likely) > 0;
    }
    return marked;
}

}  // namespace basefog::residue
