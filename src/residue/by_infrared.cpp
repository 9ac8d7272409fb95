// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/by_infrared.h"

#include "residue/constants.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>

namespace basefog::residue {

namespace {

constexpr int kRounds = 12;
/// Every so many pixels a sample is taken.
constexpr int kStride = 5;
/// Samples further above the fit than this many standard deviations carry residue or dust.
constexpr double kCarriesSigmas = 3;

struct LeakSample {
    Eigen::Vector3d x;
    double y = 0;
    std::size_t strip = 0;
};

std::vector<LeakSample> gather(const std::vector<StripPlanes>& strips) {
    std::vector<LeakSample> samples;
    for (std::size_t i = 0; i < strips.size(); ++i) {
        const StripPlanes& s = strips[i];
        if (s.silver || s.above_base[3].empty()) continue;
        for (int y = 0; y < s.visible.rows; y += kStride) {
            for (int x = 0; x < s.visible.cols; x += kStride) {
                if (!s.visible.at<uchar>(y, x)) continue;
                samples.push_back(
                    {{s.above_base[0].at<float>(y, x), s.above_base[1].at<float>(y, x), s.above_base[2].at<float>(y, x)}, s.above_base[3].at<float>(y, x), i});
            }
        }
    }
    return samples;
}

double median(std::vector<double> v) {
    if (v.empty()) return 0;
    const auto middle = v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2);
    std::nth_element(v.begin(), middle, v.end());
    return *middle;
}

}  // namespace

DyeLeak fit_leak(const std::vector<StripPlanes>& strips) {
    const std::vector<LeakSample> samples = gather(strips);
    DyeLeak leak;
    leak.noise = kLeastNoise;
    if (samples.empty()) return leak;
    std::vector<double> offset(strips.size(), 0.0);
    for (std::size_t i = 0; i < strips.size(); ++i) {
        if (!strips[i].silver) offset[i] = low_level(strips[i].above_base[3], strips[i].visible);
    }
    const int size = 3 + static_cast<int>(strips.size());
    for (int round = 0; round < kRounds; ++round) {
        std::vector<double> below;
        const auto residual = [&](const LeakSample& s) { return s.y - offset[s.strip] - s.x.dot(Eigen::Vector3d(leak.k[0], leak.k[1], leak.k[2])); };
        for (const LeakSample& s : samples) {
            const double r = residual(s);
            if (r < 0) below.push_back(-r);
        }
        leak.noise = std::max(kLeastNoise, 1.4826 * median(below));
        Eigen::MatrixXd normal = Eigen::MatrixXd::Zero(size, size);
        Eigen::VectorXd right = Eigen::VectorXd::Zero(size);
        Eigen::VectorXd row(size);
        double used = 0;
        for (const LeakSample& s : samples) {
            if (residual(s) > kCarriesSigmas * leak.noise) continue;
            row.setZero();
            row.head<3>() = s.x;
            row[3 + static_cast<int>(s.strip)] = 1;
            normal.noalias() += row * row.transpose();
            right.noalias() += s.y * row;
            ++used;
        }
        // The prior weighs as much as kLeakPriorPixels pixels would that each knew a leak to kLeakPriorStd.
        const double prior = used / kLeakPriorPixels * std::pow(leak.noise / kLeakPriorStd, 2) + 1e-6;
        for (int i = 0; i < 3; ++i) normal(i, i) += prior;
        for (int i = 3; i < size; ++i) normal(i, i) += 1e-6;
        const Eigen::VectorXd fit = normal.ldlt().solve(right);
        for (int i = 0; i < 3; ++i) leak.k[static_cast<std::size_t>(i)] = fit[i];
        for (std::size_t i = 0; i < strips.size(); ++i) offset[i] = fit[3 + static_cast<int>(i)];
    }
    return leak;
}

cv::Mat residue_by_infrared(const StripPlanes& strip, const DyeLeak& leak) {
    const double scale = 1 / std::max(0.5, 1 - leak.sum());
    cv::Mat result = strip.above_base[3] - leak.k[0] * strip.above_base[0] - leak.k[1] * strip.above_base[1] - leak.k[2] * strip.above_base[2];
    return result * scale;
}

}  // namespace basefog::residue
