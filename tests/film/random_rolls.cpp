// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/random_rolls.h"

#include <opencv2/core.hpp>

#include <algorithm>
#include <cmath>

namespace basefog::test {
namespace {

constexpr double kStop = 0.30102999566398120;
constexpr double kBaseStd = 0.001;  // density; as the density stage states it on clean film

using synthetic::Random;
using synthetic::SceneKind;

/// Grain of a 0.1 mm spot: base, and growing with density.
double grain(const SeenStock& film, int channel, double density) {
    const double at_one = film.random.stock.layers[static_cast<std::size_t>(channel)].granularity / 1000 * 0.4254;  // 48 um circle to 0.1 mm square, by area
    return std::sqrt(0.0008 * 0.0008 + at_one * at_one * std::max(density, 0.0));
}

DensityRgbi noisy(const SeenStock& film, std::array<double, 3> d, Random& random) {
    for (int c = 0; c < 3; ++c) {
        double& v = d[static_cast<std::size_t>(c)];
        v += grain(film, c, v) * random.normal();
    }
    return {static_cast<float>(d[0]), static_cast<float>(d[1]), static_cast<float>(d[2]), 0};
}

FrameSamples blank_frame() {
    FrameSamples frame;
    frame.above_base = Image<DensityRgbi>(kSpotsAcross, kSpotsDown);
    frame.usable = Image<std::uint8_t>(kSpotsAcross, kSpotsDown, 1);
    return frame;
}

RollSamples empty_roll(const SeenStock& film, const char* id, double rating, Random& random) {
    RollSamples roll;
    roll.facts.id = id;
    roll.facts.stock = "random";
    roll.facts.session = "one";
    roll.facts.box_speed = 400;
    roll.facts.rating = rating;
    roll.facts.stock_balance = Kelvin(film.random.stock.balance_kelvin);
    roll.facts.light = Kelvin(film.light);
    roll.facts.own_process = "ECN-2";
    roll.facts.process = film.random.crossed ? "C-41" : "ECN-2";
    if (film.random.expired) roll.facts.years_past_expiry = 12;
    for (int c = 0; c < 3; ++c) {
        roll.base[c] = {Density(film.base[static_cast<std::size_t>(c)] + kBaseStd * random.normal()), Density(kBaseStd), 100, MeasureFlag::none};
        roll.spot_noise[c] = grain(film, c, 0);
    }
    return roll;
}

/// What the base was measured wrong by lies on every spot.
void shift_by_base_error(RollSamples& roll, const SeenStock& film) {
    for (FrameSamples& f : roll.frames)
        for (std::int64_t y = 0; y < f.above_base.height(); ++y)
            for (std::int64_t x = 0; x < f.above_base.width(); ++x) {
                DensityRgbi& d = f.above_base(x, y);
                d.r -= static_cast<float>(roll.base.r.value.value() - film.base[0]);
                d.g -= static_cast<float>(roll.base.g.value.value() - film.base[1]);
                d.b -= static_cast<float>(roll.base.b.value.value() - film.base[2]);
            }
}

synthetic::SceneSpec random_scene(Random& random) {
    constexpr std::array<SceneKind, 11> kinds{SceneKind::hills,    SceneKind::coast,      SceneKind::meadow, SceneKind::forest,
                                              SceneKind::snow,     SceneKind::still_life, SceneKind::crates, SceneKind::room,
                                              SceneKind::portrait, SceneKind::houses,     SceneKind::blocks};
    return {kinds[static_cast<std::size_t>(random.below(static_cast<int>(kinds.size())))], 1 + static_cast<std::uint64_t>(random.below(1000)), 0};
}

}  // namespace

SeenStock::SeenStock(std::uint64_t seed, double light_kelvin)
    : random(synthetic::random_stock(seed)),
      optics(random.stock, synthetic::random_scanner(seed)),
      base(optics.base_density()),
      offset(random.stock.light_offset(light_kelvin)),
      light(light_kelvin) {}

std::array<double, 3> SeenStock::density(const std::array<double, 3>& scene, double stops) const {
    synthetic::Triple dye{};
    for (std::size_t l = 0; l < 3; ++l) {
        double light_in = 0;
        for (std::size_t k = 0; k < 3; ++k) light_in += random.stock.sensitivity[l][k] * scene[k];
        dye[l] = random.stock.layers[l].fog + random.stock.layers[l].dye(std::log10(std::max(light_in, 1e-5) / 0.18) + stops * kStop + offset[l]);
    }
    const auto d = optics.density(dye);
    return {d[0] - base[0], d[1] - base[1], d[2] - base[2]};
}

std::array<double, 3> SeenStock::neutral(double log_h) const { return density({0.18, 0.18, 0.18}, log_h / kStop); }

std::array<double, 3> SeenStock::slopes() const {
    constexpr double kLow = -0.3, kHigh = 0.7;  // log10 H about an 18 % grey
    const auto low = neutral(kLow), high = neutral(kHigh);
    return {(high[0] - low[0]) / (kHigh - kLow), (high[1] - low[1]) / (kHigh - kLow), (high[2] - low[2]) / (kHigh - kLow)};
}

FrameSamples shoot(const SeenStock& film, const Shot& shot, Random& random) {
    const cv::Mat scene = synthetic::render_scene(shot.scene, kSpotsAcross);
    FrameSamples frame = blank_frame();
    frame.note = shot.note;
    for (int y = 0; y < kSpotsDown; ++y)
        for (int x = 0; x < kSpotsAcross; ++x) {
            const float* p = scene.ptr<float>(y) + 3 * x;
            frame.above_base(x, y) =
                noisy(film, film.density({static_cast<double>(p[0]), static_cast<double>(p[1]), static_cast<double>(p[2])}, shot.stops), random);
        }
    return frame;
}

FrameSamples shoot_wedge(const SeenStock& film, int steps, double step, double highest, Random& random) {
    FrameSamples frame = blank_frame();
    frame.note = {FrameUse::step_wedge, step, {}, {}};
    for (int x = 0; x < kSpotsAcross; ++x) {
        // Where two steps meet, a spot sees some of both: lens, film and scanner.
        constexpr double kBlur = 0.7;  // spots
        std::array<double, 3> d{};
        for (const auto& [off, share] : {std::pair{-kBlur, 0.25}, {0.0, 0.5}, {kBlur, 0.25}}) {
            const auto part = film.neutral(highest - step * std::clamp(std::floor((x + 0.5 + off) * steps / kSpotsAcross), 0.0, steps - 1.0));
            for (std::size_t c = 0; c < 3; ++c) d[c] += share * part[c];
        }
        for (int y = 0; y < kSpotsDown; ++y) frame.above_base(x, y) = noisy(film, d, random);
    }
    return frame;
}

RollPair draw_pair(std::uint64_t seed) {
    Random random(synthetic::mix(seed, 0x9a17));
    RollPair out{SeenStock(seed, random.unit() < 0.8 ? 5500 : 6500), {}, {}};
    const double slower = random.unit() < 0.5 ? 1.0 : 2.0;
    const auto metered = [&] { return 0.2 * random.normal(); };
    std::vector<synthetic::SceneSpec> scenes;
    for (int i = 0; i < 7; ++i) scenes.push_back(random_scene(random));
    out.shots.resize(2);
    for (int i = 0; i < 5; ++i) out.shots[0].push_back({scenes[static_cast<std::size_t>(i)], metered(), {}});
    if (random.unit() < 0.5) {  // a bracket in whole stops, shutters being what they are
        const double middle = metered();
        for (const int step : {-1, 0, 1}) out.shots[0].push_back({scenes[5], middle + step + 0.05 * random.normal(), {}});
    }
    for (const int i : {0, 1, 2, 6}) out.shots[1].push_back({scenes[static_cast<std::size_t>(i)], slower + metered(), {}});
    for (std::size_t r = 0; r < 2; ++r) {
        RollSamples roll = empty_roll(out.film, r == 0 ? "A" : "B", r == 0 ? 400 : 400 / std::exp2(slower), random);
        for (const Shot& shot : out.shots[r]) roll.frames.push_back(shoot(out.film, shot, random));
        shift_by_base_error(roll, out.film);
        out.rolls.push_back(std::move(roll));
    }
    return out;
}

}  // namespace basefog::test
