// SPDX-License-Identifier: GPL-3.0-or-later
#include "pipeline/sample_frame.h"

#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::pipeline;

namespace {

Rgb<Density> base_of(double r, double g, double b) { return {Density(r), Density(g), Density(b)}; }

FrameBox full_frame(double px_per_mm, double x, double y) {
    FrameBox frame;
    const double w = 36 * px_per_mm, h = 24 * px_per_mm;
    frame.corners = {PointPx{x, y}, PointPx{x + w, y}, PointPx{x + w, y + h}, PointPx{x, y + h}};
    return frame;
}

}  // namespace

TEST_CASE("a full frame becomes 360 x 240 spots of density above base") {
    const double scale = 14;
    Image<DensityRgbi> density(600, 420, {0.9F, 1.2F, 1.5F, 0.1F});
    const Image<Defect> defects(600, 420);
    const auto samples = sample_frame(density, defects, full_frame(scale, 30, 30), base_of(0.1, 0.3, 0.7), Density(0), 1, PixelsPerMm(scale));
    CHECK(samples.above_base.width() == 360);
    CHECK(samples.above_base.height() == 240);
    const DensityRgbi p = samples.above_base(180, 120);
    CHECK(p.r == Approx(0.8));
    CHECK(p.g == Approx(0.9));
    CHECK(p.b == Approx(0.8));
    CHECK(samples.usable(180, 120) == 1);
    CHECK(samples.usable(0, 120) == 0);  // too near the frame's edge
}

TEST_CASE("positions follow the corners, on a reduced overview too") {
    const double scale = 40;
    const int factor = 4;
    Image<DensityRgbi> density(500, 350);
    for (std::int64_t y = 0; y < density.height(); ++y)
        for (std::int64_t x = 0; x < density.width(); ++x) density(x, y) = {static_cast<float>(x), static_cast<float>(y), 0, 0};
    const FrameBox frame = full_frame(scale, 200, 160);
    const auto samples = sample_frame(density, Image<Defect>(500, 350), frame, base_of(0, 0, 0), Density(0), factor, PixelsPerMm(scale));
    // Spot (100, 50) is centred 10.05 mm and 5.05 mm inside the frame: at scan pixel 200 + 402, 160 + 202, overview 150.5, 90.5,
    // where a ramp that counts pixels from 0 (centre of pixel 0 at 0.5) reads 150 and 90.
    CHECK(samples.above_base(100, 50).r == Approx(150.0).margin(0.01));
    CHECK(samples.above_base(100, 50).g == Approx(90.0).margin(0.01));
    FrameBox turned = frame;
    turned.corners = {frame.corners[2], frame.corners[3], frame.corners[0], frame.corners[1]};
    const auto other = sample_frame(density, Image<Defect>(500, 350), turned, base_of(0, 0, 0), Density(0), factor, PixelsPerMm(scale));
    CHECK(other.above_base(359 - 100, 239 - 50).r == Approx(150.0).margin(0.01));
}

TEST_CASE("spots under a defect or outside the scan are not usable") {
    const double scale = 10;
    Image<DensityRgbi> density(300, 240);
    Image<Defect> defects(300, 240);
    defects(100, 100) = Defect::dust;
    const auto samples = sample_frame(density, defects, full_frame(scale, 0, 0), base_of(0, 0, 0), Density(0), 1, PixelsPerMm(scale));
    CHECK(samples.usable(100, 100) == 0);
    CHECK(samples.usable(104, 100) == 1);
    CHECK(samples.usable(320, 100) == 0);  // the scan ends at 300
}

TEST_CASE("a veil lies under the pictures where it could be told from base, and only there") {
    StripBase base;
    base.base = {{Density(0.1), {}, 1, {}}, {Density(0.3), {}, 1, {}}, {Density(0.7), {}, 1, {}}};
    StripResidue residue;
    residue.veil.value = Density(0.03);
    CHECK(under_pictures(base, residue).g.value() == Approx(0.3));
    residue.veil_separable = true;
    CHECK(under_pictures(base, residue).r.value() == Approx(0.13));
    CHECK(under_pictures(base, residue).b.value() == Approx(0.73));
    residue.veil.value = Density(-0.01);  // noise: light is not taken away
    CHECK(under_pictures(base, residue).b.value() == Approx(0.7));
}
