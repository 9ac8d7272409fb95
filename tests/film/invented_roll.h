// SPDX-License-Identifier: GPL-3.0-or-later
// Rolls made up from nothing, by laws of their own: error-function curves (not the library's softplus), block dyes, painted scenes.
// Truth is what went in; nothing here calls the library's curves, mixing or light.
#pragma once

#include "basefog/film/types.h"

#include <array>
#include <cmath>
#include <cstdint>
#include <string>
#include <vector>

namespace basefog::test {

/// xorshift64*: the same numbers everywhere.
class Random {
public:
    explicit Random(std::uint64_t seed) : state_(seed * 0x9E3779B97F4A7C15ULL + 1) {}
    double uniform() {
        state_ ^= state_ >> 12, state_ ^= state_ << 25, state_ ^= state_ >> 27;
        return static_cast<double>((state_ * 0x2545F4914F6CDD1DULL) >> 11) / 9007199254740992.0;
    }
    double between(double a, double b) { return a + (b - a) * uniform(); }
    double normal() {
        double s = 0;
        for (int i = 0; i < 12; ++i) s += uniform();
        return s - 6;
    }

private:
    std::uint64_t state_;
};

struct InventedFilm {
    std::array<double, 3> slope{0.47, 0.60, 0.58};  ///< neutral, in the channels
    std::array<double, 3> toe{-1, -1, -1};          ///< log10 H
    std::array<double, 3> speed{0, 0, 0};           ///< log10 H a neutral exposes the layer more than its aim
    std::array<std::array<double, 3>, 3> share{{{0.63, 0.36, 0.01}, {0.07, 0.77, 0.16}, {0.0, 0.14, 0.86}}};
    double noise = 0.0012;
};

/// Integral of a rise that follows the normal distribution: a toe of another shape than the library's.
inline double rise(double x, double width) {
    const double t = x / width;
    return width * (t * 0.5 * std::erfc(-t / std::sqrt(2.0)) + std::exp(-0.5 * t * t) / std::sqrt(2 * 3.14159265358979323846));
}
inline double invented_density(const InventedFilm& f, int layer, double h) {
    const auto l = static_cast<std::size_t>(layer);
    return rise(h - f.toe[l], 0.18) - rise(h - f.toe[l] - 2.9, 0.45);
}

/// Linear light of a painted scene: patches of smooth shading and modest colour, some near white, some dark; neutral on the whole.
inline std::vector<std::array<double, 3>> paint_scene(Random& random, int width, int height, double colourfulness = 1.0) {
    std::vector<std::array<double, 3>> scene(static_cast<std::size_t>(width * height));
    std::array<double, 3> sky{0.5, 0.5, 0.5};
    for (auto& p : scene) p = sky;
    for (int patch = 0; patch < 60; ++patch) {
        const double level = std::pow(10, random.between(-1.6, -0.05)), warm = colourfulness * 0.11 * random.normal(),
                     red = colourfulness * 0.06 * random.normal();
        const double strength = patch % 3 == 0 ? 0.15 : 1.0;  // every third is nearly grey: stone, cloud, paper
        const int cx = static_cast<int>(random.between(0, width)), cy = static_cast<int>(random.between(0, height));
        const int rx = static_cast<int>(random.between(8, width / 5.0)), ry = static_cast<int>(random.between(8, height / 4.0));
        const double slant = random.between(-0.4, 0.4);
        for (int y = std::max(0, cy - ry); y < std::min(height, cy + ry); ++y)
            for (int x = std::max(0, cx - rx); x < std::min(width, cx + rx); ++x) {
                const double shade = std::pow(10, slant * (x - cx) / rx);
                auto& p = scene[static_cast<std::size_t>(y * width + x)];
                p = {level * shade * std::pow(10, strength * (red + 0.5 * warm)), level * shade, level * shade * std::pow(10, strength * -warm)};
                for (double& v : p) v = std::min(v, 1.0);
            }
    }
    return scene;
}

/// The scene on the film, `stops` over the aim (white = 1 lies 0.745 above grey).
inline FrameSamples expose(const InventedFilm& f, const std::vector<std::array<double, 3>>& scene, int width, int height, double stops, Random& random) {
    FrameSamples frame;
    frame.above_base = Image<DensityRgbi>(width, height);
    frame.usable = Image<std::uint8_t>(width, height, 1);
    for (int y = 0; y < height; ++y)
        for (int x = 0; x < width; ++x) {
            const auto& light = scene[static_cast<std::size_t>(y * width + x)];
            std::array<double, 3> layer{}, d{};
            for (int l = 0; l < 3; ++l) {
                const auto k = static_cast<std::size_t>(l);
                layer[k] = invented_density(f, l, std::log10(std::max(light[k], 1e-4) / 0.18) + stops * 0.30103 + f.speed[k]);
            }
            for (std::size_t c = 0; c < 3; ++c) {
                for (std::size_t l = 0; l < 3; ++l) d[c] += f.slope[c] * f.share[c][l] * layer[l];
                d[c] += f.noise * random.normal();
            }
            frame.above_base(x, y) = {static_cast<float>(d[0]), static_cast<float>(d[1]), static_cast<float>(d[2]), 0};
        }
    return frame;
}

inline RollSamples empty_roll(const std::string& id) {
    RollSamples roll;
    roll.facts.id = id;
    roll.facts.stock = "invented 400";
    roll.facts.stock_balance = Kelvin(5500);
    roll.facts.light = Kelvin(5500);
    roll.facts.process = "C-41";
    roll.facts.own_process = "ECN-2";
    roll.base = {{Density(0.2), Density(0.001), 100, {}}, {Density(0.6), Density(0.001), 100, {}}, {Density(0.85), Density(0.001), 100, {}}};
    roll.spot_noise = {0.0012, 0.0012, 0.0012};
    return roll;
}

}  // namespace basefog::test
