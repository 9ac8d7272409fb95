// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert_world.h"

#include "basefog/invert/balance.h"
#include "basefog/invert/colour.h"

#include <catch2/catch.hpp>
#include <functional>

using namespace basefog;
using namespace basefog::test;

namespace {

using Scene = std::function<std::array<double, 3>(double u, double v)>;

FrameSamples frame_of(const FilmWorld& film, const Scene& scene) {
    FrameSamples frame;
    frame.above_base = Image<DensityRgbi>(90, 60);
    frame.usable = Image<std::uint8_t>(90, 60, 1);
    for (std::int64_t y = 0; y < 60; ++y)
        for (std::int64_t x = 0; x < 90; ++x) {
            const auto light = scene((double(x) + 0.5) / 90, (double(y) + 0.5) / 60);
            const DensityRgbi d = film.expose(light[0], light[1], light[2]);
            frame.above_base(x, y) = {d.r - static_cast<float>(film.base[0]), d.g - static_cast<float>(film.base[1]), d.b - static_cast<float>(film.base[2]),
                                      0};
        }
    return frame;
}

/// Chroma and light of a grey in lamp light, shown with a balance.
SceneRgb shown(const FilmWorld& film, const Rgb<LogExposure>& balance, const std::array<double, 3>& light) {
    FilmModel model = film.model();
    model.balance = balance;
    const Inverter inverter(model, {Density(film.base[0]), Density(film.base[1]), Density(film.base[2])}, LogExposure(film.level), {});
    return inverter.scene(film.expose(light[0], light[1], light[2]));
}
double chroma(SceneRgb rgb) {
    const Lab lab = lab_from_linear_srgb(rgb);
    return std::hypot(lab.a, lab.b);
}
double sum(const Rgb<LogExposure>& b) { return b.r.value() + b.g.value() + b.b.value(); }

constexpr std::array<double, 3> kLamp{1.8, 1.0, 0.45};
/// A grey card in lamp light amid coloured things; by the roll's balance it would be orange.
std::array<double, 3> card_scene(double u, double v) {
    const bool card = u > 0.4 && u < 0.6 && v > 0.3 && v < 0.7;
    const double light = 0.2 * (1 + 0.5 * u);
    if (card) return {light * kLamp[0], light * kLamp[1], light * kLamp[2]};
    return {light * kLamp[0] * (0.3 + u), light * kLamp[1] * (1.3 - v), light * kLamp[2] * 0.4};
}

}  // namespace

TEST_CASE("a grey patch comes out grey, as bright as before, whatever lies round it") {
    const FilmWorld film;
    FrameSamples frame = frame_of(film, card_scene);
    frame.above_base(45, 30) = {3, 0.1F, 3, 0};  // a speck in the patch
    const auto balance = balance_of_patch(film.model(), frame, {0.42, 0.35, 0.58, 0.65});
    REQUIRE(balance);
    CHECK(sum(*balance) == Approx(0).margin(1e-9));
    const SceneRgb card = shown(film, *balance, card_scene(0.5, 0.5));
    CHECK(chroma(card) < 0.05);
    CHECK(chroma(shown(film, film.model().balance, card_scene(0.5, 0.5))) > 30);  // what it would have been
    // The layers' mean exposure, in logarithms, stays: with the film's own balance summing to .04 it is 10^.0133 less.
    const double before = std::cbrt(0.25 * kLamp[0] * 0.25 * kLamp[1] * 0.25 * kLamp[2]);
    CHECK(card.g == Approx(before * std::pow(10, (film.balance[0] + film.balance[1] + film.balance[2]) / 3)).epsilon(1e-3));
}

TEST_CASE("a picture taken for grey: strong colours on a part of it pull little") {
    const FilmWorld film;
    Random random(4);
    const auto balance = balance_of_picture(film.model(), frame_of(film, [&](double u, double) -> std::array<double, 3> {
                                                const double light = 0.15 + 0.3 * random();
                                                if (u > 0.7) return {light * kLamp[0] * 2, light * kLamp[1] * 0.3, light * kLamp[2] * 0.2};  // a red wall
                                                const auto tint = [&] { return 1 + 0.2 * (random() - 0.5); };
                                                return {light * kLamp[0] * tint(), light * kLamp[1] * tint(), light * kLamp[2] * tint()};
                                            }));
    REQUIRE(balance);
    CHECK(sum(*balance) == Approx(0).margin(1e-9));
    CHECK(chroma(shown(film, *balance, {0.2 * kLamp[0], 0.2 * kLamp[1], 0.2 * kLamp[2]})) < 3);
}

TEST_CASE("where there is nothing to balance by, that is told") {
    const FilmWorld film;
    FrameSamples frame = frame_of(film, card_scene);
    CHECK(balance_of_patch(film.model(), frame, {0.4, 0.4, 0.4001, 0.4001}) == std::nullopt);
    for (std::int64_t y = 0; y < 60; ++y)
        for (std::int64_t x = 0; x < 90; ++x) frame.usable(x, y) = 0;
    CHECK(balance_of_patch(film.model(), frame, {0, 0, 1, 1}) == std::nullopt);
    CHECK(balance_of_picture(film.model(), frame) == std::nullopt);
    CHECK(balance_of_picture(film.model(), FrameSamples{}) == std::nullopt);
    const FrameSamples clear = frame_of(film, [](double, double) -> std::array<double, 3> { return {1e-6, 1e-6, 1e-6}; });
    CHECK(balance_of_picture(film.model(), clear) == std::nullopt);
}
