// SPDX-License-Identifier: GPL-3.0-or-later
#include "mend/infrared_density.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace basefog::mending {
namespace {

/// Most that infrared is sharpened, pixels squared: more would amplify its noise. It may be softened by as much in one step.
constexpr double kMostSharpened = 0.6;

/// Catmull-Rom weights of the four samples about a fraction.
std::array<float, 4> cubic(double t) {
    return {static_cast<float>(0.5 * t * (-1 + t * (2 - t))), static_cast<float>(0.5 * (2 + t * t * (-5 + 3 * t))),
            static_cast<float>(0.5 * t * (1 + t * (4 - 3 * t))), static_cast<float>(0.5 * t * t * (t - 1))};
}

/// Infrared of the crop at a place on the scan; beyond the crop its edge is repeated.
float infrared_at(View<const LinearRgbi> pixels, PxRect rect, PointPx p) {
    const double x = p.x - static_cast<double>(rect.x0) - 0.5, y = p.y - static_cast<double>(rect.y0) - 0.5;
    const double fx = std::floor(x), fy = std::floor(y);
    const auto wx = cubic(x - fx), wy = cubic(y - fy);
    const auto clamped = [](double first, int offset, std::int64_t size) {
        return std::clamp<std::int64_t>(static_cast<std::int64_t>(first) + offset - 1, 0, size - 1);
    };
    float sum = 0;
    for (int j = 0; j < 4; ++j) {
        const LinearRgbi* const row = pixels.row(clamped(fy, j, pixels.height()));
        float line = 0;
        for (int i = 0; i < 4; ++i) line += wx[static_cast<std::size_t>(i)] * row[clamped(fx, i, pixels.width())].ir;
        sum += wy[static_cast<std::size_t>(j)] * line;
    }
    return sum;
}

/// Infrared light where the colours are, then as sharp as they are.
cv::Mat matched_infrared(View<const LinearRgbi> pixels, PxRect rect, const InfraredMatch& match) {
    cv::Mat plane(static_cast<int>(pixels.height()), static_cast<int>(pixels.width()), CV_32F);
    for (int y = 0; y < plane.rows; ++y) {
        auto* const out = plane.ptr<float>(y);
        for (int x = 0; x < plane.cols; ++x)
            out[x] = infrared_at(pixels, rect, match.at({static_cast<double>(rect.x0) + x + 0.5, static_cast<double>(rect.y0) + y + 0.5}));
    }
    if (match.places == 0) return plane;
    if (match.focus > 0) {
        cv::Mat curvature;
        cv::Laplacian(plane, curvature, CV_32F, 1);
        plane -= std::min(match.focus, kMostSharpened) / 2 * curvature;
    } else if (match.focus < -0.05) {
        cv::GaussianBlur(plane, plane, cv::Size(), std::sqrt(-match.focus));
    }
    return plane;
}

float median(std::vector<float>& values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

}  // namespace

cv::Mat neutral_density(View<const LinearRgbi> pixels, PxRect rect, const MendFacts& facts) {
    const InfraredModel& model = *facts.infrared;
    cv::Mat plane = matched_infrared(pixels, rect, model.match);
    const auto& k = model.leak;
    const double scale = model.carbon_gain / std::max(0.5, 1 - k[0] - k[1] - k[2]);
    const double zero = facts.base_infrared.value() - k[0] * facts.base.r.value() - k[1] * facts.base.g.value() - k[2] * facts.base.b.value();
    for (int y = 0; y < plane.rows; ++y) {
        auto* const out = plane.ptr<float>(y);
        const LinearRgbi* const in = pixels.row(y);
        for (int x = 0; x < plane.cols; ++x) {
            const PointPx here{static_cast<double>(rect.x0) + x + 0.5, static_cast<double>(rect.y0) + y + 0.5};
            const DensityRgbi d = facts.light.density({in[x].r, in[x].g, in[x].b, out[x]}, here);
            const double above = static_cast<double>(d.ir) - k[0] * static_cast<double>(d.r) - k[1] * static_cast<double>(d.g) - k[2] * static_cast<double>(d.b) - zero;
            out[x] = static_cast<float>(scale * above - facts.veil.value());
        }
    }
    return plane;
}

float pixel_noise(const cv::Mat& plane) {
    std::vector<float> differences;
    for (int y = 0; y < plane.rows; y += 2) {
        const auto* const row = plane.ptr<float>(y);
        for (int x = 0; x + 2 < plane.cols; x += 5) differences.push_back(std::abs(row[x] - row[x + 2]));
    }
    constexpr float kLeastNoise = 0.0005F, kSigmaPerMedian = 1.4826F / 1.41421356F;
    return differences.empty() ? kLeastNoise : std::max(kLeastNoise, kSigmaPerMedian * median(differences));
}

void level(cv::Mat& plane, double block_px) {
    const int across = std::max(1, static_cast<int>(std::lround(plane.cols / block_px))), down = std::max(1, static_cast<int>(std::lround(plane.rows / block_px)));
    cv::Mat blocks(down, across, CV_32F), slow;
    for (int j = 0; j < down; ++j) {
        for (int i = 0; i < across; ++i) {
            std::vector<float> values;
            const cv::Rect box(i * plane.cols / across, j * plane.rows / down, std::max(1, plane.cols / across), std::max(1, plane.rows / down));
            const int step = std::max(1, box.width / 32);
            for (int y = box.y; y < box.y + box.height; y += step)
                for (int x = box.x; x < box.x + box.width; x += step) values.push_back(plane.at<float>(y, x));
            blocks.at<float>(j, i) = median(values);
        }
    }
    cv::resize(blocks, slow, plane.size(), 0, 0, cv::INTER_LINEAR);
    plane -= slow;
}

}  // namespace basefog::mending
