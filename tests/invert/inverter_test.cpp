// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert_world.h"

#include "basefog/invert/colour.h"

#include <catch2/catch.hpp>
#include <limits>
#include <vector>

using namespace basefog;
using namespace basefog::test;

namespace {
/// A 16-bit step of L*: 100 / 65535.
constexpr double kStep = 100.0 / 65535.0;
double lightness(double light) { return lab_from_linear_srgb({static_cast<float>(light), static_cast<float>(light), static_cast<float>(light)}).L; }
}  // namespace

TEST_CASE("inverting what the film's own physics made gives the scene back") {
    const FilmWorld film;
    const Inverter inverter = film.inverter();
    Random random(11);
    for (int i = 0; i < 500; ++i) {
        // Above the shadows that fade into base, up to three stops over white.
        const double scene[3] = {0.03 * std::pow(300, random()), 0.03 * std::pow(300, random()), 0.03 * std::pow(300, random())};
        const SceneRgb got = inverter.scene(film.expose(scene[0], scene[1], scene[2]));
        // Densities are floats: 6e-8 of 2 is 1e-7 in density, times ln 10 / slope and the unmixing 1e-6; the shoulder's weaker slope allows 1e-4.
        CHECK(got.r == Approx(scene[0]).epsilon(1e-4));
        CHECK(got.g == Approx(scene[1]).epsilon(1e-4));
        CHECK(got.b == Approx(scene[2]).epsilon(1e-4));
    }
    const SceneRgb grey = inverter.scene(film.expose(0.18, 0.18, 0.18));
    CHECK(grey.g == Approx(0.18).epsilon(1e-5));
}

namespace {
/// Only where the film's model has such a matrix.
template <class Model>
void check_overlap(const FilmWorld& film, Model model) {
    if constexpr (requires { model.scene_from_layer; }) {
        // Each layer also sees some of its neighbours' light; the inverse by hand: rows sum to 1, checked by M * inverse = 1.
        const double overlap = 0.1, k = 1 / (1 - 3 * overlap);
        const auto layer = [&](double own, double one, double other) { return (1 - 2 * overlap) * own + overlap * (one + other); };
        for (int i = 0; i < 3; ++i)
            for (int j = 0; j < 3; ++j) model.scene_from_layer[i][j] = (i == j ? (1 - overlap) : -overlap) * k;
        const Inverter inverter(model, {Density(film.base[0]), Density(film.base[1]), Density(film.base[2])}, LogExposure(film.level), {});
        const double r = 0.3, g = 0.2, b = 0.12;
        const DensityRgbi d = film.expose(layer(r, g, b), layer(g, r, b), layer(b, r, g));
        const SceneRgb got = inverter.scene(d);
        CHECK(got.r == Approx(r).epsilon(1e-4));
        CHECK(got.g == Approx(g).epsilon(1e-4));
        CHECK(got.b == Approx(b).epsilon(1e-4));
        float fast[3] = {d.r, d.g, d.b};
        inverter.display_row(&fast[0], &fast[1], &fast[2], 1);
        const SceneRgb slow = inverter.display(got);
        CHECK(fast[0] == Approx(slow.r).epsilon(1e-5));
        CHECK(fast[1] == Approx(slow.g).epsilon(1e-5));
        CHECK(fast[2] == Approx(slow.b).epsilon(1e-5));
    }
}
}  // namespace

TEST_CASE("the overlap of the layers' sensitivities is undone in light") {
    const FilmWorld film;
    check_overlap(film, film.model());
}

TEST_CASE("a neutral scale is neutral from shadow to highlight although the layers' curves are not parallel") {
    const FilmWorld film;
    const Inverter inverter = film.inverter();
    for (double light = 0.02; light < 4; light *= 1.3) {
        const Lab lab = lab_from_linear_srgb(inverter.display(inverter.scene(film.expose(light, light, light))));
        CHECK(std::hypot(lab.a, lab.b) < 0.01);
    }
}

TEST_CASE("more exposure is more light: k times the light moves mid-grey by k") {
    const FilmWorld film;
    const Inverter inverter = film.inverter();
    for (const double k : {0.5, 2.0, 4.0}) CHECK(inverter.scene(film.expose(0.18 * k, 0.18 * k, 0.18 * k)).g == Approx(0.18 * k).epsilon(1e-4));
}

TEST_CASE("tables agree with the exact path within a quarter of a 16-bit step of L*") {
    for (const bool silver : {false, true}) {
        FilmWorld film;
        film.silver = silver;
        InvertOptions plain, changed;
        changed.contrast = 1.3;
        changed.saturation = 1.2;
        changed.exposure = Stops(0.7);
        for (const InvertOptions& options : {plain, changed}) {
            const Inverter inverter = film.inverter(options);
            Random random(5);
            constexpr int kPixels = 40000;
            std::vector<float> r(kPixels), g(kPixels), b(kPixels);
            std::vector<SceneRgb> exact(kPixels);
            for (int i = 0; i < kPixels; ++i) {
                // Everything from below base to beyond the shoulder, half of it greys.
                const double grey = random() * 3 - 0.05, spread = i % 2 == 0 ? 0.0 : 0.6;
                r[i] = static_cast<float>(film.base[0] + grey + spread * (random() - 0.5));
                g[i] = static_cast<float>(film.base[1] + grey + spread * (random() - 0.5));
                b[i] = static_cast<float>(film.base[2] + grey + spread * (random() - 0.5));
                exact[i] = inverter.display(inverter.scene({r[i], g[i], b[i], 0}));
            }
            inverter.display_row(r.data(), g.data(), b.data(), kPixels);
            double worst = 0;
            for (int i = 0; i < kPixels; ++i)
                for (const auto& [fast, slow] : {std::pair{r[i], exact[i].r}, {g[i], exact[i].g}, {b[i], exact[i].b}})
                    if (slow >= 0) worst = std::max(worst, std::fabs(lightness(fast) - lightness(slow)));
            CAPTURE(silver, options.contrast, worst / kStep);
            CHECK(worst < 0.25 * kStep);
        }
    }
}

TEST_CASE("a layer whose share of its channel is overcorrected does not go black in thin shadows, and vivid colours stay") {
    FilmWorld film;
    // A stock balanced for lamps, in daylight, three stops under: where green gives out, blue still lies on its straight line.
    film.level = -0.7;
    film.balance = {-0.10, 0.0, 0.30};
    film.channel_from_dye = {{{1.0, 0.30, 0.02}, {0.15, 1.0, 0.26}, {0.03, 0.15, 1.0}}};
    FilmWorld taken = film;
    for (std::size_t c = 0; c < 3; ++c)
        for (std::size_t l = 0; l < 3; ++l)
            if (c != l) taken.channel_from_dye[c][l] *= 1.25;
    const Inverter inverter = taken.inverter({}, Density(0.001));
    for (const double stops : {-0.5, -1.0, -1.5, -2.0}) {
        const double light = 0.18 * std::exp2(stops);
        const std::array<double, 3> cloud{0.95 * light, 0.95 * light, 1.4 * light};
        const SceneRgb scene = inverter.scene(film.expose(cloud[0], cloud[1], cloud[2]));
        const Lab lab = lab_from_linear_srgb(inverter.display(scene)),
                  truth = lab_from_linear_srgb(inverter.display({static_cast<float>(cloud[0]), static_cast<float>(cloud[1]), static_cast<float>(cloud[2])}));
        INFO("a dark cloud at " << stops << " stops: L* " << lab.L << " a* " << lab.a << " b* " << lab.b << ", as it was " << truth.L << " " << truth.a << " "
                                << truth.b);
        CHECK(lab.a - truth.a < 6);  // 18 at -1.5 stops where the dye is taken as it comes out
    }
    film.level = 0.21;
    const Inverter right = film.inverter({}, Density(0.003));
    for (const auto& [r, g, b] : {std::array{0.30, 0.03, 0.02}, {0.03, 0.20, 0.03}, {0.03, 0.04, 0.30}, {0.3, 0.3, 0.02}}) {
        const SceneRgb scene = right.scene(film.expose(r, g, b));
        CHECK(double(scene.r) == Approx(r).epsilon(1e-4));
        CHECK(double(scene.g) == Approx(g).epsilon(1e-4));
        CHECK(double(scene.b) == Approx(b).epsilon(1e-4));
    }
}

TEST_CASE("black-and-white is neutral to the bit") {
    FilmWorld film;
    film.silver = true;
    film.base = {0.25, 0.25, 0.26};
    const Inverter inverter = film.inverter();
    Random random(3);
    for (int i = 0; i < 1000; ++i) {
        const SceneRgb out =
            inverter.display(inverter.scene({static_cast<float>(random() * 2), static_cast<float>(random() * 2), static_cast<float>(random() * 2), 0}));
        CHECK(out.r == out.g);
        CHECK(out.g == out.b);
    }
    CHECK(inverter.scene(film.expose(0.18, 0.18, 0.18)).g == Approx(0.18).epsilon(1e-5));
}

TEST_CASE("shadows: noise about base becomes neither colour nor light") {
    const FilmWorld film;
    const double sigma = 0.012;
    const Inverter inverter = film.inverter({}, Density(sigma));
    Random random(7);
    double chroma = 0, light = 0;
    constexpr int kPixels = 5000;
    for (int i = 0; i < kPixels; ++i) {
        const auto noise = [&] { return sigma * std::sqrt(12.0 / 4) * (random() + random() + random() + random() - 2); };
        const DensityRgbi d{static_cast<float>(film.base[0] + noise()), static_cast<float>(film.base[1] + noise()), static_cast<float>(film.base[2] + noise()),
                            0};
        const SceneRgb out = inverter.display(inverter.scene(d));
        const Lab lab = lab_from_linear_srgb(out);
        chroma += std::hypot(lab.a, lab.b) / kPixels;
        light += out.g / kPixels;
    }
    CHECK(chroma < 0.5);   // a chroma of 1 is about what can just be seen
    CHECK(light < 0.004);  // L* 3.6
    // ... while colour a few sigma above base is whole: dyes of about 0.1.
    const DensityRgbi dark = film.expose(0.06, 0.035, 0.03);
    const SceneRgb got = inverter.scene(dark);
    CHECK(got.r / got.b == Approx(2).epsilon(0.02));
}

TEST_CASE("light rises with density, without a jump, from below base to opaque") {
    const FilmWorld film;
    const Inverter inverter = film.inverter();
    double before = -1;
    for (double d = -0.2; d < 5; d += 0.001) {
        const SceneRgb light =
            inverter.scene({static_cast<float>(film.base[0] + d), static_cast<float>(film.base[1] + d), static_cast<float>(film.base[2] + d), 0});
        const double shown = inverter.display(light).g;
        CHECK(shown >= before);
        CHECK(shown - std::max(before, 0.0) < 0.02);
        before = shown;
    }
}

TEST_CASE("hostile densities and models still give finite pixels") {
    const float bad[] = {std::numeric_limits<float>::quiet_NaN(), std::numeric_limits<float>::infinity(), -std::numeric_limits<float>::infinity(), 1e30F,
                         -1e30F};
    FilmWorld film;
    for (const double level : {0.21, std::numeric_limits<double>::quiet_NaN(), 400.0, -400.0}) {
        film.level = level;
        const Inverter inverter = film.inverter({}, Density(level));
        for (const float x : bad)
            for (const float y : bad) {
                const SceneRgb exact = inverter.display(inverter.scene({x, y, 0.5F, 0}));
                CHECK(std::isfinite(exact.r + exact.g + exact.b));
                float r = x, g = y, b = 0.5F;
                inverter.display_row(&r, &g, &b, 1);
                CHECK(std::isfinite(r + g + b));
            }
    }
    film.inverter().display_row(nullptr, nullptr, nullptr, 0);
}
