// SPDX-License-Identifier: GPL-3.0-or-later
// The per-pixel stages one by one, on one thread, pixels per second.
#include "basefog/invert/write.h"
#include "basefog/mend/mend.h"

#include "invert/invert_world.h"
#include "support/temporary_folder.h"

#include <benchmark/benchmark.h>
#include <cmath>
#include <limits>
#include <random>

using namespace basefog;

namespace {

constexpr std::int64_t kWidth = 1500, kHeight = 1000;

/// Film with grain, a slope of exposure, and some dust in all channels and infrared.
const Image<LinearRgbi>& film() {
    static const Image<LinearRgbi> pixels = [] {
        Image<LinearRgbi> made(kWidth, kHeight);
        std::mt19937 random(1);
        const test::FilmWorld world;
        for (std::int64_t y = 0; y < kHeight; ++y)
            for (std::int64_t x = 0; x < kWidth; ++x) {
                const double scene = 0.02 * std::exp2(8.0 * double(x) / kWidth), grain = 1 + 0.04 * (double(random()) / 4294967295.0 - 0.5);
                const DensityRgbi d = world.expose(scene, scene * (0.5 + double(y) / kHeight), scene * 0.9);
                const bool speck = (x % 200 - 100) * (x % 200 - 100) + (y % 170 - 80) * (y % 170 - 80) < 20;
                const auto light = [&](float density) { return static_cast<float>(std::pow(10.0, -double(density)) * grain * (speck ? 0.2 : 1)); };
                made(x, y) = {light(d.r), light(d.g), light(d.b), static_cast<float>(0.9 * grain * (speck ? 0.2 : 1))};
            }
        return made;
    }();
    return pixels;
}

constexpr PxRect kRect{0, 0, kWidth, kHeight};
const Quad kCorners{PointPx{6.3, 5.1}, PointPx{1490.2, 12.4}, PointPx{1486.0, 992.0}, PointPx{2.1, 985.2}};

LightField even_light() {
    LightField light;
    light.scan_width = kWidth;
    light.scan_height = kHeight;
    light.coefficient[3][0] = std::log(0.9);
    return light;
}

void count(benchmark::State& state) { state.SetItemsProcessed(state.iterations() * kWidth * kHeight); }

/// Resampled, unmixed, curved, toned, fitted and encoded.
void render_all(benchmark::State& state) {
    const test::FilmWorld world;
    const Inverter inverter = world.inverter();
    const OutputProfile profile = OutputProfile::make({}).value();
    const PositiveSize size = positive_size(kCorners);
    Image<EncodedRgb16> out(size.width, size.height);
    const ViewSource source(kRect, film().view());
    for (auto _ : state) benchmark::DoNotOptimize(render_rows(source, kCorners, even_light(), inverter, profile, 0, out.view()));
    count(state);
}

/// The film's model, tone and colour alone, no resampling.
void invert_and_encode(benchmark::State& state) {
    const test::FilmWorld world;
    const Inverter inverter = world.inverter();
    const OutputProfile profile = OutputProfile::make({}).value();
    std::vector<float> r(kWidth), g(kWidth), b(kWidth);
    std::vector<EncodedRgb16> out(kWidth);
    for (auto _ : state)
        for (std::int64_t y = 0; y < kHeight; ++y) {
            for (std::size_t x = 0; x < r.size(); ++x) r[x] = 0.3F + 0.001F * static_cast<float>(x), g[x] = r[x] + 0.5F, b[x] = r[x] + 0.8F;
            inverter.display_row(r.data(), g.data(), b.data(), kWidth);
            profile.fit_row(r.data(), g.data(), b.data(), kWidth);
            profile.encode_row(r.data(), g.data(), b.data(), out.data(), kWidth);
            benchmark::ClobberMemory();
        }
    count(state);
}

void shadow_means(benchmark::State& state) {
    const ViewSource source(kRect, film().view());
    for (auto _ : state) benchmark::DoNotOptimize(ShadowMeans::make(source, even_light(), 13, {Density(0.2), Density(0.6), Density(0.9)}, Density(0.01)));
    count(state);
}

void mend_by_infrared(benchmark::State& state) {
    MendFacts facts;
    facts.light = even_light();
    facts.infrared = InfraredModel{};
    facts.infrared->match.places = 50;
    facts.infrared->match.shift_x = 0.4;
    facts.infrared->match.focus = 0.3;
    facts.scale = PixelsPerMm(126);
    const ViewSource source(kRect, film().view());
    for (auto _ : state) {
        Scratch scratch({}, std::numeric_limits<std::int64_t>::max(), {}, silent_observer());
        benchmark::DoNotOptimize(mend(source, {}, facts, {}, {scratch, {}}).value().counts());
    }
    count(state);
}

void write_deflate(benchmark::State& state) {
    const TemporaryFolder folder;
    const test::FilmWorld world;
    const OutputProfile profile = OutputProfile::make({}).value();
    Image<EncodedRgb16> positive(positive_size(kCorners).width, positive_size(kCorners).height);
    (void)render_rows(ViewSource(kRect, film().view()), kCorners, even_light(), world.inverter(), profile, 0, positive.view());
    for (auto _ : state)
        benchmark::DoNotOptimize(write_positive_tiff(folder.file("p.tif"), positive.view(), profile.icc_bytes(), Compression::deflate, PixelsPerMm(126), {}));
    count(state);
}

}  // namespace

BENCHMARK(render_all)->Unit(benchmark::kMillisecond);
BENCHMARK(invert_and_encode)->Unit(benchmark::kMillisecond);
BENCHMARK(shadow_means)->Unit(benchmark::kMillisecond);
BENCHMARK(mend_by_infrared)->Unit(benchmark::kMillisecond);
BENCHMARK(write_deflate)->Unit(benchmark::kMillisecond);
BENCHMARK_MAIN();
