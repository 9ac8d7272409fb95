// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/density/types.h"

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>
#include <vector>

using namespace basefog;

namespace {

LightField field() {
    LightField f;
    f.scan_width = 2000;
    f.scan_height = 1000;
    return f;
}

}  // namespace

TEST_CASE("density of a sample follows the published table") {
    // Source: [ScanMetric2001], "Choosing a metric for scanning negative", T against D.
    const double table[][2] = {{0.1, 1.0000}, {0.2, 0.6990}, {0.3, 0.5229}, {0.4, 0.3979}, {0.5, 0.3010},
                               {0.6, 0.2218}, {0.7, 0.1549}, {0.8, 0.0969}, {0.9, 0.0458}, {1.0, 0.0000}};
    LightField f = field();
    const double bare = 0.8;
    for (auto& channel : f.coefficient) channel[0] = std::log(bare);
    f.flare = {0.01F, 0.01F, 0.01F, 0.01F};
    for (const auto& [t, d] : table) {
        const auto sample = static_cast<float>(bare * t + 0.01);
        const DensityRgbi got = f.density({sample, sample, sample, sample}, {321, 654});
        // Half a unit of the table's last place, and the float sample's own rounding.
        CHECK(got.r == Approx(d).margin(0.00006));
        CHECK(got.g == got.r);
        CHECK(got.b == got.r);
        CHECK(got.ir == got.r);
    }
}

TEST_CASE("the field is the stated polynomial of the scan's position") {
    LightField f = field();
    f.coefficient[1] = {-0.1, 0.02, -0.03, 0.04, -0.05, 0.06};
    const double u = 500.0 / 2000 * 2 - 1, v = 900.0 / 1000 * 2 - 1;
    const double expected = std::exp(-0.1 + 0.02 * u - 0.03 * v + 0.04 * u * u - 0.05 * u * v + 0.06 * v * v);
    CHECK(f.at({500, 900}).g == Approx(expected).epsilon(1e-6));
    const auto light = static_cast<float>(expected);
    CHECK(f.density({light, light, light, 0}, {500, 900}).g == Approx(0).margin(1e-6));
}

TEST_CASE("hostile samples give densities inside the stated range") {
    LightField f = field();
    const float nan = std::numeric_limits<float>::quiet_NaN(), inf = std::numeric_limits<float>::infinity();
    CHECK(f.density({0, -1, nan, 0}, {1, 1}).r == Approx(kMaxDensity));
    CHECK(f.density({0, -1, nan, 0}, {1, 1}).g == Approx(kMaxDensity));
    CHECK(f.density({0, -1, nan, 0}, {1, 1}).b == Approx(kMaxDensity));
    CHECK(f.density({inf, 1e9F, 1e-30F, 0}, {1, 1}).r == Approx(-0.3));
    CHECK(f.density({inf, 1e9F, 1e-30F, 0}, {1, 1}).g == Approx(-0.3));
    CHECK(f.density({inf, 1e9F, 1e-30F, 0}, {1, 1}).b == Approx(kMaxDensity));
}

TEST_CASE("a scan without infrared reads 0 there, an opaque spot with it the most") {
    LightField f = field();
    CHECK(f.density({0.5F, 0.5F, 0.5F, 0}, {10, 10}).ir == 0);
    CHECK(f.at({10, 10}).ir == 0);
    f.coefficient[3][0] = -0.2;
    CHECK(f.density({0.5F, 0.5F, 0.5F, 0}, {10, 10}).ir == Approx(kMaxDensity));
}

TEST_CASE("rows of densities are the single ones to 1e-6, whatever the light, the direction and the sample") {
    // Float carries a density of 4.8 to 5e-7, the logarithm's series adds 1e-7, the light's own 1e-7.
    constexpr double kRowError = 1e-6;
    LightField field;
    field.scan_width = 32500;
    field.scan_height = 22900;
    field.flare = {0.001F, 0.0F, 0.0005F, 0.0F};
    field.coefficient[0] = {-0.2, 0.03, -0.05, 0.02, 0.01, -0.03};
    field.coefficient[1] = {-0.1, -0.02, 0.04, 0.0, 0.0, 0.0};
    field.coefficient[2] = {0.3, 0.0, 0.0, 0.1, -0.1, 0.1};
    field.coefficient[3] = {-0.4, 0.05, 0.05, -0.02, 0.03, 0.04};
    const std::vector<float> samples{0.9F, 0.5F, 0.2F, 0.01F, 0.0011F, 0.001F, 0.0F, -1.0F, 1e-6F, 5.0F, std::numeric_limits<float>::quiet_NaN()};
    const PointPx first{20100.5, 811.5};
    for (const PointPx step : {PointPx{1, 0}, PointPx{0, 1}, PointPx{-0.9, 0.4}})
        for (std::size_t channel = 0; channel < 4; ++channel) {
            std::vector<float> row;
            for (int i = 0; i < 700; ++i) row.push_back(samples[static_cast<std::size_t>(i) % samples.size()]);
            const std::vector<float> light = row;
            field.density_row(channel, row.data(), static_cast<std::int64_t>(row.size()), first, step);
            double worst = 0;
            for (std::size_t i = 0; i < row.size(); ++i) {
                const DensityRgbi d = field.density({light[i], light[i], light[i], light[i]}, first + step * static_cast<double>(i));
                const float expected = std::array{d.r, d.g, d.b, d.ir}[channel];
                worst = std::max(worst, std::fabs(static_cast<double>(row[i]) - static_cast<double>(expected)));
            }
            CAPTURE(channel, step.x);
            CHECK(worst < kRowError);
        }
    // Without an infrared channel there is no density of it.
    field.coefficient[3] = {};
    float none = 0.5F;
    field.density_row(3, &none, 1, first, {1, 0});
    CHECK(none == 0.0F);
}
