// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/grain.h"

#include "basefog/film/speed.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <tuple>

namespace basefog::film {
namespace {

constexpr std::int64_t kBlock = 8;  // spots. Chosen: 49 differences, their sigma known to a tenth
constexpr double kBin = 0.15;       // density
constexpr std::size_t kBins = 20;
constexpr std::size_t kLeastBlocks = 40;
/// The flattest share of the blocks in a bin, and what picking the lowest of scattered estimates takes off a sigma. Chosen / Defined
/// for 49 degrees of freedom.
constexpr double kFlattest = 0.05, kSelection = 1.18;
constexpr double kLeastNoise = 1e-4;  // density; a scan of 16 bits with no grain at all
/// Where the pictures show no flat part: variance grows as density, Selwyn-like; at D = 1 this much over the base. Chosen.
constexpr double kAssumedAtOne = 0.0025;

struct Block {
    double density, variance;
};

/// Blocks of one channel of a frame: mean density and the variance of mixed second differences (flat and tilted parts give noise
/// alone).
void add_blocks(const FrameSamples& frame, int channel, std::array<std::vector<Block>, kBins>& bins) {
    const auto value = [&](std::int64_t x, std::int64_t y) {
        const DensityRgbi& d = frame.above_base(x, y);
        return static_cast<double>(channel == 0 ? d.r : channel == 1 ? d.g : d.b);
    };
    for (std::int64_t y0 = 0; y0 + kBlock <= frame.above_base.height(); y0 += kBlock)
        for (std::int64_t x0 = 0; x0 + kBlock <= frame.above_base.width(); x0 += kBlock) {
            double sum = 0, squares = 0;
            bool whole = true;
            for (std::int64_t y = y0; y + 1 < y0 + kBlock && whole; ++y)
                for (std::int64_t x = x0; x + 1 < x0 + kBlock; ++x) {
                    if (!frame.usable.empty() && frame.usable(x, y) == 0) whole = false;
                    const double d = 0.5 * (value(x, y) - value(x + 1, y) - value(x, y + 1) + value(x + 1, y + 1));
                    squares += d * d;
                    sum += value(x, y);
                }
            const double n = static_cast<double>((kBlock - 1) * (kBlock - 1));
            const double mean = sum / n;
            if (!whole || !std::isfinite(mean) || !std::isfinite(squares) || mean < 0) continue;
            const auto bin = static_cast<std::size_t>(mean / kBin);
            if (bin < kBins) bins[bin].push_back({mean, squares / n});
        }
}

/// Mean density and noise of the flattest blocks of a bin.
std::pair<double, double> flattest(std::vector<Block>& blocks) {
    const auto n = std::max<std::size_t>(5, static_cast<std::size_t>(static_cast<double>(blocks.size()) * kFlattest));
    std::sort(blocks.begin(), blocks.end(), [](const Block& a, const Block& b) { return a.variance < b.variance; });
    double density = 0, variance = 0;
    for (std::size_t i = 0; i < n; ++i) density += blocks[i].density, variance += blocks[i].variance;
    return {density / static_cast<double>(n), std::max(kLeastNoise, kSelection * std::sqrt(variance / static_cast<double>(n)))};
}

}  // namespace

std::vector<GrainPoint> measure_grain(const RollSamples& roll) {
    std::vector<GrainPoint> points(1);
    for (int c = 0; c < 3; ++c) points[0].spot_noise[c] = std::isfinite(roll.spot_noise[c]) ? std::max(roll.spot_noise[c], kLeastNoise) : kLeastNoise;
    std::array<std::array<std::vector<Block>, kBins>, 3> bins;
    for (const FrameSamples& frame : roll.frames) {
        if (frame.kind == FrameKind::blank ||
            (!frame.usable.empty() && (frame.usable.width() != frame.above_base.width() || frame.usable.height() != frame.above_base.height())))
            continue;
        for (int c = 0; c < 3; ++c) add_blocks(frame, c, bins[static_cast<std::size_t>(c)]);
    }
    for (std::size_t b = 0; b < kBins; ++b) {
        GrainPoint point;
        bool whole = true;
        for (int c = 0; c < 3; ++c) {
            auto& blocks = bins[static_cast<std::size_t>(c)][b];
            whole = whole && blocks.size() >= kLeastBlocks;
            if (whole) std::tie(point.density[c], point.spot_noise[c]) = flattest(blocks);
        }
        if (whole) points.push_back(point);
    }
    for (GrainPoint& p : points)
        for (int c = 0; c < 3; ++c) p.granularity[c] = rms_granularity(p.spot_noise[c]);
    return points;
}

NoiseCurve::NoiseCurve(const std::vector<GrainPoint>& points, int channel) {
    for (const GrainPoint& p : points) points_.emplace_back(p.density[channel], p.spot_noise[channel]);
    std::sort(points_.begin(), points_.end());
    if (points_.empty()) points_.emplace_back(0.0, kLeastNoise);
    if (points_.size() == 1) points_.emplace_back(1.0, std::hypot(points_[0].second, kAssumedAtOne));
}

double NoiseCurve::at(double density) const {
    if (!(density > points_.front().first)) return points_.front().second;
    const auto after = std::find_if(points_.begin(), points_.end(), [&](const auto& p) { return p.first > density; });
    if (after == points_.end()) return points_.back().second;
    const auto before = after - 1;
    const double t = (density - before->first) / std::max(after->first - before->first, 1e-9);
    return before->second + t * (after->second - before->second);
}

}  // namespace basefog::film
