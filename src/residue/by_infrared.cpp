// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/by_infrared.h"

#include "residue/constants.h"

#include <Eigen/Cholesky>
#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace basefog::residue {

namespace {

constexpr int kRounds = 12;
/// Every so many pixels a sample is taken.
constexpr int kStride = 5;
/// Samples further above the fit than this many standard deviations carry residue or dust.
constexpr double kCarriesSigmas = 3;
/// Residue that says how carbon absorbs in infrared beside the colours: plain, and with light left to measure.
constexpr double kSmearFrom = 0.06, kSmearTo = 0.6;
/// Film compared with its surroundings of this width, in blocks of this size. Chosen: a smear's flank fits in.
constexpr double kFollowMm = 3, kBlockMm = 3;
/// Prior of the gain. [ScanMetric2001] finds carbon alike at all wavelengths seen; absorption falls a little towards infrared: from memory.
constexpr double kCarbonGainStd = 0.05;
/// Independent looks in a block, and the least share it is taken to leave unexplained. Chosen: pixels of a block err together.
constexpr double kBlockWorth = 8, kLeastUnexplained = 0.02;

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

namespace {

/// Sums over a block of film that say how the colours follow infrared there.
struct Following {
    double xx = 0, xd = 0, dd = 0;
};

/// Smears on clear film alone: what is as narrow as dust may absorb otherwise, and a picture has structure of its own. Blocks of kBlockMm, each about
/// its own surroundings.
void gather_following(const StripPlanes& strip, const cv::Mat& x, std::vector<Following>& blocks) {
    const double px = strip.px_per_mm;
    cv::Mat wide, near, mean_x, mean_d, weight, count;
    cv::morphologyEx((x > kSmearFrom) & strip.visible, wide, cv::MORPH_OPEN, disc(kObjectWidthMm * px));
    cv::dilate(wide, near, disc(2 * kObjectWidthMm * px));
    cv::Mat narrow = (x > kSmearFrom) & ~wide;
    cv::dilate(narrow, narrow, cv::Mat::ones(3, 3, CV_8U));
    near &= strip.clear & ~narrow & (x < kSmearTo);
    if (cv::countNonZero(wide & near) == 0) return;
    const cv::Mat d = (strip.above_base[0] + strip.above_base[1] + strip.above_base[2]) / 3;
    near.convertTo(weight, CV_32F, 1.0 / 255);
    const int side = std::max(3, static_cast<int>(std::lround(kFollowMm * px)) | 1);
    cv::boxFilter(weight, count, CV_32F, cv::Size(side, side));
    cv::boxFilter(x.mul(weight), mean_x, CV_32F, cv::Size(side, side));
    cv::boxFilter(d.mul(weight), mean_d, CV_32F, cv::Size(side, side));
    const int block = std::max(4, static_cast<int>(std::lround(kBlockMm * px)));
    for (int y0 = 0; y0 < x.rows; y0 += block) {
        for (int x0 = 0; x0 < x.cols; x0 += block) {
            Following f;
            for (int y = y0; y < std::min(y0 + block, x.rows); ++y) {
                for (int c = x0; c < std::min(x0 + block, x.cols); ++c) {
                    if (!near.at<uchar>(y, c)) continue;
                    const double n = std::max(1e-6F, count.at<float>(y, c));
                    const double hx = x.at<float>(y, c) - mean_x.at<float>(y, c) / n, hd = d.at<float>(y, c) - mean_d.at<float>(y, c) / n;
                    f.xx += hx * hx;
                    f.xd += hx * hd;
                    f.dd += hd * hd;
                }
            }
            if (f.xx > 0) blocks.push_back(f);
        }
    }
}

}  // namespace

double fit_carbon_gain(const std::vector<StripPlanes>& strips, const DyeLeak& leak) {
    std::vector<Following> blocks;
    for (const StripPlanes& strip : strips)
        if (!strip.silver && !strip.above_base[3].empty()) gather_following(strip, residue_by_infrared(strip, leak, 1), blocks);
    // Each block weighs by what it leaves unexplained.
    double gain = 1;
    for (int round = 0; round < kRounds; ++round) {
        double top = 1 / (kCarbonGainStd * kCarbonGainStd);
        double information = top;
        for (const Following& f : blocks) {
            const double left = std::max(f.dd - 2 * gain * f.xd + gain * gain * f.xx, kLeastUnexplained * f.dd);
            const double weight = kBlockWorth / std::max(left, 1e-9);
            top += weight * f.xd;
            information += weight * f.xx;
        }
        gain = top / information;
    }
    return gain;
}

cv::Mat residue_by_infrared(const StripPlanes& strip, const DyeLeak& leak, double carbon_gain) {
    const double scale = carbon_gain / std::max(0.5, 1 - leak.sum());
    cv::Mat result = strip.above_base[3] - leak.k[0] * strip.above_base[0] - leak.k[1] * strip.above_base[1] - leak.k[2] * strip.above_base[2];
    return result * scale;
}

}  // namespace basefog::residue
