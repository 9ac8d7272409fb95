// SPDX-License-Identifier: GPL-3.0-or-later
#include "pipeline/histogram.h"

#include <catch2/catch.hpp>

#include <cmath>
#include <numeric>

using namespace basefog;
using pipeline::density_histogram;

namespace {

FrameSamples even_frame(float r, float g, float b) {
    FrameSamples frame;
    frame.above_base = Image<DensityRgbi>(12, 8, {r, g, b, 0});
    frame.usable = Image<std::uint8_t>(12, 8, 1);
    return frame;
}

std::uint64_t total(const std::array<std::uint32_t, DensityHistogram::kBins>& bins) { return std::accumulate(bins.begin(), bins.end(), std::uint64_t{0}); }

}  // namespace

TEST_CASE("an even frame fills one bin per channel, the one its density lies in") {
    const DensityHistogram h = density_histogram(even_frame(0.50F, 1.02F, -0.02F));
    CHECK(h.spots == 96);
    // Bins of 0.04 from -0.16, by hand: 0.50 in [0.48, 0.52), 1.02 in [1.00, 1.04), -0.02 in [-0.04, 0).
    CHECK(h.counts.r[16] == 96);
    CHECK(h.counts.g[29] == 96);
    CHECK(h.counts.b[3] == 96);
}

TEST_CASE("spots that defects spoil do not count, nor what is no number, and what lies beyond the bins counts at their ends") {
    FrameSamples frame = even_frame(0.5F, 0.5F, 0.5F);
    frame.usable(3, 3) = 0;
    frame.above_base(0, 0) = {std::nanf(""), 0.5F, 0.5F, 0};
    frame.above_base(1, 0) = {9.0F, 0.5F, -9.0F, 0};
    const DensityHistogram h = density_histogram(frame);
    CHECK(h.spots == 94);
    for (int i = 0; i < 3; ++i) CHECK(total(h.counts[i]) == 94);
    CHECK(h.counts.r.back() == 1);
    CHECK(h.counts.b.front() == 1);
    CHECK(density_histogram({}) == DensityHistogram{});
}
