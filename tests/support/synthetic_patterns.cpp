// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures that cost little: what matters of them is how light or dark they are along a frame's edges.
#include "support/synthetic_random.h"
#include "support/synthetic_views.h"

#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <cmath>

namespace synthetic {
namespace {

cv::Scalar colour(Random& random, double level) {
    const double warm = random.between(-0.2, 0.2), green = random.between(-0.08, 0.08);
    return {level * std::pow(10.0, warm), level * std::pow(10.0, green), level * std::pow(10.0, -warm)};
}

cv::Point place(Random& random, cv::Size size) { return {random.below(size.width), random.below(size.height)}; }

/// Multiplies the picture by clouds of `span` decades with details of `detail` of its height.
void cloud(cv::Mat& image, double span, double detail, std::uint64_t seed) {
    for (int row = 0; row < image.rows; ++row) {
        for (int col = 0; col < image.cols; ++col) {
            const double x = col / (detail * image.rows), y = row / (detail * image.rows);
            const double level = span * rough_noise(x, y, seed, 4), tint = 0.25 * span * smooth_noise(x / 2, y / 2, seed + 99);
            auto& p = image.ptr<cv::Vec3f>(row)[col];
            p[0] *= static_cast<float>(std::pow(10.0, level + tint));
            p[1] *= static_cast<float>(std::pow(10.0, level));
            p[2] *= static_cast<float>(std::pow(10.0, level - tint));
        }
    }
}

}  // namespace

cv::Mat texture(int width, int height, std::uint64_t seed) {
    Random random(seed);
    cv::Mat image(height, width, CV_32FC3, colour(random, random.between(0.08, 0.3)));
    cloud(image, random.between(0.5, 1.4), random.between(0.15, 0.6), random.bits());
    return image;
}

cv::Mat shapes(int width, int height, std::uint64_t seed) {
    Random random(seed);
    cv::Mat image(height, width, CV_32FC3, colour(random, random.between(0.04, 0.4)));
    for (int i = 6 + random.below(16); i > 0; --i) {
        const cv::Scalar paint = colour(random, 0.18 * std::pow(10.0, random.between(-1.5, 0.9)));
        const cv::Point middle = place(random, image.size());
        const int w = std::max(2, static_cast<int>(random.between(0.02, 0.3) * width)), h = std::max(2, static_cast<int>(random.between(0.02, 0.4) * height));
        if (random.unit() < 0.6) {
            cv::rectangle(image, cv::Rect(middle.x - w / 2, middle.y - h / 2, w, h), paint, cv::FILLED);
        } else {
            cv::ellipse(image, cv::RotatedRect(middle, cv::Size2f(static_cast<float>(w), static_cast<float>(h)), static_cast<float>(random.between(0, 180))),
                        paint, cv::FILLED);
        }
    }
    cloud(image, 0.15, 0.1, random.bits());
    return image;
}

cv::Mat night(int width, int height, std::uint64_t seed) {
    Random random(seed);
    cv::Mat image(height, width, CV_32FC3, colour(random, std::pow(10.0, random.between(-2.4, -1.6))));
    cloud(image, 0.3, 0.4, random.bits());
    for (int i = 2 + random.below(12); i > 0; --i) {
        const cv::Scalar light = colour(random, std::pow(10.0, random.between(-1.2, 1.0)));
        const cv::Point middle(static_cast<int>(random.between(0.05, 0.95) * width), static_cast<int>(random.between(0.05, 0.95) * height));
        const int size = std::max(1, static_cast<int>(random.between(0.004, 0.05) * width));
        if (random.unit() < 0.5) {
            cv::circle(image, middle, size, light, cv::FILLED, cv::LINE_8);
        } else {
            cv::rectangle(image, cv::Rect(middle.x - size, middle.y - size / 2, 2 * size, std::max(1, 2 * size)), light, cv::FILLED);
        }
    }
    return image;
}

cv::Mat high_key(int width, int height, std::uint64_t seed) {
    Random random(seed);
    cv::Mat image(height, width, CV_32FC3, colour(random, random.between(0.9, 2.2)));
    cloud(image, random.between(0.08, 0.25), random.between(0.2, 0.7), random.bits());
    for (int i = random.below(5); i > 0; --i)
        cv::circle(image, place(random, image.size()), 1 + random.below(std::max(2, width / 12)), colour(random, 0.5), cv::FILLED);
    return image;
}

}  // namespace synthetic
