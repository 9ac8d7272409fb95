// SPDX-License-Identifier: GPL-3.0-or-later
// Thin shadows: what noise of a pixel becomes in the print, before and after it is settled by the means about it.
#include "invert_world.h"

#include "basefog/invert/colour.h"

#include <catch2/catch.hpp>
#include <functional>

using namespace basefog;
using namespace basefog::test;

namespace {

constexpr std::int64_t kSide = 120, kCell = 12;  // 0.1 mm at 3200 dpi is 12.6 pixels
constexpr double kNoise = 0.04;                  // one pixel of fast film at that resolution: RMS granularity 7 in 48 um, by Selwyn's law

LightField even_light() {
    LightField light;
    light.scan_width = light.scan_height = kSide;
    return light;
}
Rgb<Density> base_of(const FilmWorld& film) { return {Density(film.base[0]), Density(film.base[1]), Density(film.base[2])}; }

/// A scan of film that shows `scene`, each channel with normal noise of its own.
Crop scan(const FilmWorld& film, const std::function<std::array<double, 3>(std::int64_t, std::int64_t)>& scene, double noise, std::uint64_t seed = 3) {
    Crop crop{{0, 0, kSide, kSide}, Image<LinearRgbi>(kSide, kSide)};
    Random random(seed);
    const auto normal = [&] { return noise * std::sqrt(12.0 / 6) * (random() + random() + random() + random() + random() + random() - 3); };
    for (std::int64_t y = 0; y < kSide; ++y)
        for (std::int64_t x = 0; x < kSide; ++x) {
            const auto light = scene(x, y);
            const DensityRgbi d = film.expose(light[0], light[1], light[2]);
            const auto read = [&](float density) { return static_cast<float>(std::pow(10.0, -(double(density) + normal()))); };
            crop.pixels(x, y) = {read(d.r), read(d.g), read(d.b), 0};
        }
    return crop;
}

Quad whole() { return {PointPx{0, 0}, PointPx{kSide, 0}, PointPx{kSide, kSide}, PointPx{0, kSide}}; }

enum class Way {
    by_pixel,  ///< one pixel's noise decides what is told from base
    naive,     ///< the cells' noise decides, and pixels are left as noisy as they are
    settled
};
Image<SceneRgb> shown(const FilmWorld& film, const Crop& crop, Way way) {
    const Density pixel(kNoise), light(std::hypot(ShadowMeans::left_of(pixel).value(), kNoise / kCell)), colour(0.005);
    const ShadowMeans shadows = ShadowMeans::make(crop.source(), even_light(), kCell, base_of(film), pixel).value();
    const bool by_pixel = way == Way::by_pixel;
    const Inverter inverter(film.model(), base_of(film), LogExposure(film.level), {}, by_pixel ? pixel : light, by_pixel ? pixel : colour);
    Image<SceneRgb> out(kSide, kSide);
    REQUIRE(render_linear_rows(crop.source(), whole(), even_light(), inverter, 0, out.view(), way == Way::settled ? &shadows : nullptr));
    for (std::int64_t y = 0; y < kSide; ++y)
        for (std::int64_t x = 0; x < kSide; ++x) out(x, y) = inverter.display(out(x, y));
    return out;
}

struct Speckle {
    double chroma_std = 0, lightness_std = 0;
    double lightness = 0;
    double cast = 0;  ///< chroma of the mean
};
Speckle speckle_of(const Image<SceneRgb>& picture) {
    double sum[3] = {}, square[3] = {};
    constexpr std::int64_t kMargin = 6;
    double n = 0;
    for (std::int64_t y = kMargin; y < kSide - kMargin; ++y)
        for (std::int64_t x = kMargin; x < kSide - kMargin; ++x, ++n) {
            const Lab lab = lab_from_linear_srgb(picture(x, y));
            const double values[3] = {lab.L, lab.a, lab.b};
            for (int c = 0; c < 3; ++c) sum[c] += values[c], square[c] += values[c] * values[c];
        }
    const auto variance = [&](int c) { return square[c] / n - sum[c] / n * (sum[c] / n); };
    return {std::sqrt(variance(1) + variance(2)), std::sqrt(variance(0)), sum[0] / n, std::hypot(sum[1] / n, sum[2] / n)};
}

}  // namespace

TEST_CASE("noise in thin shadows does not become coloured speckle, and grey stays grey") {
    const FilmWorld film;
    for (const double stops : {-6.0, -5.0, -4.0, -3.0, -2.0}) {
        const double light = 0.18 * std::exp2(stops);
        const Crop crop = scan(
            film,
            [&](std::int64_t, std::int64_t) {
                return std::array<double, 3>{light, light, light};
            },
            kNoise);
        const Speckle naive = speckle_of(shown(film, crop, Way::naive)), by_pixel = speckle_of(shown(film, crop, Way::by_pixel)),
                      settled = speckle_of(shown(film, crop, Way::settled));
        const auto grey = static_cast<float>(light);
        const double truth = lab_from_linear_srgb(film.inverter().display({grey, grey, grey})).L;
        INFO(stops << " stops, L* " << truth << ": naive / by pixel / settled: chroma noise " << naive.chroma_std << " / " << by_pixel.chroma_std << " / "
                   << settled.chroma_std << ", L* noise " << naive.lightness_std << " / " << by_pixel.lightness_std << " / " << settled.lightness_std << ", L* "
                   << naive.lightness << " / " << by_pixel.lightness << " / " << settled.lightness << ", cast " << naive.cast << " / " << by_pixel.cast << " / "
                   << settled.cast);
        CHECK(settled.cast < 1);                          // a chroma of 1 is about what can just be seen
        if (stops < -2) CHECK(settled.chroma_std < 1.5);  // of single pixels; higher up noise is grain, no more than anywhere in the picture
        if (stops > -5 && stops < -2) CHECK(settled.chroma_std < 0.5 * naive.chroma_std);
        if (stops > -5) CHECK(std::fabs(settled.lightness - truth) <= std::fabs(by_pixel.lightness - truth) + 0.2);
        if (stops < -4.5) CHECK(settled.lightness < truth);  // what cannot be told from base runs to black
    }
}

TEST_CASE("colour of thin shadows is kept where the means can tell it") {
    const FilmWorld film;
    const std::array<double, 3> moss{0.012, 0.018, 0.006};
    const Crop noisy = scan(
        film, [&](std::int64_t, std::int64_t) { return moss; }, kNoise);
    const auto mean = [](const Image<SceneRgb>& picture) {
        double r = 0, g = 0, b = 0;
        for (std::int64_t y = 0; y < kSide; ++y)
            for (std::int64_t x = 0; x < kSide; ++x) r += double(picture(x, y).r), g += double(picture(x, y).g), b += double(picture(x, y).b);
        constexpr double n = double(kSide * kSide);
        return SceneRgb{static_cast<float>(r / n), static_cast<float>(g / n), static_cast<float>(b / n)};
    };
    const Lab truth = lab_from_linear_srgb(film.inverter({}, Density(0.001)).display({0.012F, 0.018F, 0.006F}));
    const double settled = ciede2000(truth, lab_from_linear_srgb(mean(shown(film, noisy, Way::settled))));
    const double plain = ciede2000(truth, lab_from_linear_srgb(mean(shown(film, noisy, Way::by_pixel))));
    INFO("moss at -3.4 stops: CIEDE2000 of the mean " << plain << " -> " << settled);
    CHECK(settled < 6);
    CHECK(settled < 0.6 * plain);
}

TEST_CASE("what stands out of the noise stays: a star, an edge, and all above the shadows to the bit") {
    const FilmWorld film;
    const auto night = [](std::int64_t x, std::int64_t y) {
        const double light = x == 60 && y == 60 ? 0.5 : x > 90 ? 0.3 : 0.002;
        return std::array<double, 3>{light, light, light};
    };
    const Crop crop = scan(film, night, 0.004);
    const Image<SceneRgb> before = shown(film, crop, Way::naive), after = shown(film, crop, Way::settled);
    CHECK(after(60, 60).g == Approx(before(60, 60).g).epsilon(0.02));
    for (std::int64_t y = 0; y < kSide; ++y) {
        CHECK(after(91, y).g == Approx(before(91, y).g).epsilon(0.05));
        CHECK(after(112, y).r == before(112, y).r);
        CHECK(after(112, y).b == before(112, y).b);
    }
}

TEST_CASE("settling needs cells, and noise, and survives odd ones") {
    const FilmWorld film;
    const Crop crop = scan(
        film,
        [](std::int64_t, std::int64_t) {
            return std::array<double, 3>{0.01, 0.01, 0.01};
        },
        kNoise);
    for (const auto& [cell, noise] : {std::pair<std::int64_t, double>{1, 0.04}, {12, 0.0}, {12, std::nan("")}, {-3, 0.04}}) {
        const ShadowMeans none = ShadowMeans::make(crop.source(), even_light(), cell, base_of(film), Density(noise)).value();
        float r = 0.3F, g = 0.7F, b = 1.0F;
        none.settle_row(&r, &g, &b, 1, {5.5, 5.5}, {1, 0});
        CHECK((r == 0.3F && g == 0.7F && b == 1.0F));
    }
    const ShadowMeans large = ShadowMeans::make(crop.source(), even_light(), 1000, base_of(film), Density(0.04)).value();
    float r = std::nanf(""), g = 0.7F, b = 1.0F;
    large.settle_row(&r, &g, &b, 1, {-1e9, 1e9}, {1, 0});
    large.settle_row(nullptr, nullptr, nullptr, 0, {}, {});
}
