// SPDX-License-Identifier: GPL-3.0-or-later
#include "colour_suite/score.h"

#include "basefog/invert/colour.h"

#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <numeric>
#include <stdexcept>

namespace colour_suite {
namespace {

using basefog::Lab;

constexpr int kAcross = 180, kDown = 120;  // a scene is judged at
constexpr int kDrawnAcross = 720;

Lab lab_of_codes(const cv::Vec3f& code) {
    const auto light = [&](int c) { return static_cast<float>(basefog::srgb_decode(std::clamp(static_cast<double>(code[c]), 0.0, 1.0))); };
    return basefog::lab_from_linear_srgb({light(0), light(1), light(2)});
}

std::vector<Lab> labs(const cv::Mat& codes) {
    cv::Mat small;
    cv::resize(codes, small, {kAcross, kDown}, 0, 0, cv::INTER_AREA);
    std::vector<Lab> out;
    for (int y = 0; y < small.rows; ++y)
        for (int x = 0; x < small.cols; ++x) out.push_back(lab_of_codes(small.ptr<cv::Vec3f>(y)[x]));
    return out;
}

/// Each value's rank gives the value of the same rank in `wanted`.
void match_lightness(std::vector<Lab>& seen, const std::vector<Lab>& wanted) {
    std::vector<std::size_t> order(seen.size());
    std::iota(order.begin(), order.end(), std::size_t{0});
    std::stable_sort(order.begin(), order.end(), [&](std::size_t a, std::size_t b) { return seen[a].L < seen[b].L; });
    std::vector<double> levels;
    for (const Lab& lab : wanted) levels.push_back(lab.L);
    std::sort(levels.begin(), levels.end());
    for (std::size_t i = 0; i < order.size(); ++i) seen[order[i]].L = levels[i];
}

double interpolated(double x, const std::vector<double>& xs, const std::vector<double>& ys) {
    if (x <= xs.front()) return ys.front();
    for (std::size_t i = 1; i < xs.size(); ++i)
        if (x <= xs[i]) return ys[i - 1] + (ys[i] - ys[i - 1]) * (x - xs[i - 1]) / std::max(1e-9, xs[i] - xs[i - 1]);
    return ys.back();
}

/// Middles of the 24 patches of a chart that fills the picture, as synthetic::render_scene draws it.
std::vector<Lab> patches(const cv::Mat& codes) {
    const double pitch_x = codes.cols / 6.4, pitch_y = codes.rows / 4.4;
    std::vector<Lab> out;
    for (int i = 0; i < 24; ++i) {
        const int x = static_cast<int>((0.25 + i % 6 + 0.45) * pitch_x), y = static_cast<int>((0.25 + i / 6 + 0.45) * pitch_y),
                  r = std::max(2, static_cast<int>(0.22 * pitch_x));
        cv::Vec3f middle;
        for (int c = 0; c < 3; ++c) {
            std::vector<double> values;
            for (int dy = -r; dy <= r; ++dy)
                for (int dx = -r; dx <= r; ++dx)
                    values.push_back(codes.at<cv::Vec3f>(std::clamp(y + dy, 0, codes.rows - 1), std::clamp(x + dx, 0, codes.cols - 1))[c]);
            middle[c] = static_cast<float>(quantile(values, 0.5));
        }
        out.push_back(lab_of_codes(middle));
    }
    return out;
}

cv::Mat as_codes(const synthetic::SceneSpec& scene) {
    cv::Mat codes = synthetic::render_scene(scene, kDrawnAcross).clone();
    for (int y = 0; y < codes.rows; ++y)
        for (int x = 0; x < codes.cols; ++x)
            for (float& v : codes.ptr<cv::Vec3f>(y)[x].val) v = static_cast<float>(basefog::srgb_encode(std::clamp(static_cast<double>(v), 0.0, 1.0)));
    return codes;
}

double saturation(const std::vector<Lab>& seen, const std::vector<Lab>& truth) {
    Lab seen_mean, true_mean;
    const auto n = static_cast<double>(truth.size());
    for (std::size_t i = 0; i < truth.size(); ++i) {
        seen_mean.a += seen[i].a / n, seen_mean.b += seen[i].b / n;
        true_mean.a += truth[i].a / n, true_mean.b += truth[i].b / n;
    }
    double both = 0, own = 1e-9;
    for (std::size_t i = 0; i < truth.size(); ++i) {
        const double a = truth[i].a - true_mean.a, b = truth[i].b - true_mean.b;
        both += a * (seen[i].a - seen_mean.a) + b * (seen[i].b - seen_mean.b);
        own += a * a + b * b;
    }
    return both / own;
}

}  // namespace

double quantile(std::vector<double> values, double q) {
    if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
    std::sort(values.begin(), values.end());
    const double at = q * static_cast<double>(values.size() - 1);
    const auto i = static_cast<std::size_t>(at);
    return i + 1 < values.size() ? values[i] + (at - static_cast<double>(i)) * (values[i + 1] - values[i]) : values.back();
}

double mean(const std::vector<double>& values) {
    if (values.empty()) return std::numeric_limits<double>::quiet_NaN();
    return std::accumulate(values.begin(), values.end(), 0.0) / static_cast<double>(values.size());
}

cv::Mat read_positive(const std::string& path) {
    cv::Mat image = cv::imread(path, cv::IMREAD_UNCHANGED);
    if (image.empty()) throw std::runtime_error(path + " cannot be read");
    const double top = image.depth() == CV_16U ? 65535 : 255;
    if (image.channels() == 1)
        cv::cvtColor(image, image, cv::COLOR_GRAY2RGB);
    else
        cv::cvtColor(image, image, cv::COLOR_BGR2RGB);
    image.convertTo(image, CV_32F, 1 / top);
    return image;
}

SceneScore score_scene(const cv::Mat& positive, const synthetic::SceneSpec& scene) {
    const std::vector<Lab> truth = labs(as_codes(scene));
    std::vector<Lab> seen = labs(positive);
    match_lightness(seen, truth);
    SceneScore out;
    std::vector<double> differences;
    for (std::size_t i = 0; i < truth.size(); ++i) {
        differences.push_back(basefog::ciede2000(truth[i], seen[i]));
        out.cast_a += (seen[i].a - truth[i].a) / static_cast<double>(truth.size());
        out.cast_b += (seen[i].b - truth[i].b) / static_cast<double>(truth.size());
    }
    out.median = quantile(differences, 0.5);
    out.saturation = saturation(seen, truth);
    return out;
}

ChartScore score_chart(const cv::Mat& positive) {
    const std::vector<Lab> truth = patches(as_codes({synthetic::SceneKind::chart, 1, 0}));
    std::vector<Lab> seen = patches(positive);
    ChartScore out;
    std::vector<double> grey_seen, grey_true;
    double low_a = 1e9, high_a = -1e9, low_b = 1e9, high_b = -1e9;
    for (std::size_t i = 18; i < 24; ++i) {
        out.grey_chroma += std::hypot(seen[i].a, seen[i].b) / 6;
        grey_seen.push_back(seen[i].L);
        grey_true.push_back(truth[i].L);
        if (i == 23) continue;
        low_a = std::min(low_a, seen[i].a), high_a = std::max(high_a, seen[i].a);
        low_b = std::min(low_b, seen[i].b), high_b = std::max(high_b, seen[i].b);
    }
    out.crossover = std::hypot(high_a - low_a, high_b - low_b);
    std::sort(grey_seen.begin(), grey_seen.end());
    std::sort(grey_true.begin(), grey_true.end());
    for (std::size_t i = 0; i < 24; ++i) {
        seen[i].L = interpolated(seen[i].L, grey_seen, grey_true);
        out.mean += basefog::ciede2000(truth[i], seen[i]) / 24;
    }
    return out;
}

}  // namespace colour_suite
