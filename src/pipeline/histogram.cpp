// SPDX-License-Identifier: GPL-3.0-or-later
#include "histogram.h"

#include <algorithm>
#include <cmath>

namespace basefog::pipeline {
namespace {

std::size_t bin_of(float density) {
    constexpr double kLast = DensityHistogram::kBins - 1;
    const double bin = std::floor((density - DensityHistogram::kFirst) / DensityHistogram::kStep);
    return static_cast<std::size_t>(std::clamp(bin, 0.0, kLast));
}

}  // namespace

DensityHistogram density_histogram(const FrameSamples& frame) {
    DensityHistogram histogram;
    for (std::int64_t y = 0; y < frame.above_base.height(); ++y)
        for (std::int64_t x = 0; x < frame.above_base.width(); ++x) {
            const DensityRgbi& d = frame.above_base(x, y);
            if (frame.usable(x, y) == 0 || !std::isfinite(d.r) || !std::isfinite(d.g) || !std::isfinite(d.b)) continue;
            ++histogram.counts.r[bin_of(d.r)];
            ++histogram.counts.g[bin_of(d.g)];
            ++histogram.counts.b[bin_of(d.b)];
            ++histogram.spots;
        }
    return histogram;
}

}  // namespace basefog::pipeline
