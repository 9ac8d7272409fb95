// SPDX-License-Identifier: GPL-3.0-or-later
// Chance that is the same everywhere: the standard library's distributions differ between implementations, so the
// synthetic sheets draw from this small generator instead. Also the smooth noise that textures are made of.
#pragma once

#include <cmath>
#include <cstdint>

namespace synthetic {

/// A well mixed 64-bit value from any other: the finaliser of the SplitMix64 generator [Steele2014].
[[nodiscard]] constexpr std::uint64_t mix(std::uint64_t z) {
    z += 0x9e3779b97f4a7c15ULL;
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9ULL;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebULL;
    return z ^ (z >> 31);
}
[[nodiscard]] constexpr std::uint64_t mix(std::uint64_t a, std::uint64_t b) { return mix(a ^ mix(b)); }
[[nodiscard]] constexpr std::uint64_t mix(std::uint64_t a, std::uint64_t b, std::uint64_t c) { return mix(a ^ mix(b ^ mix(c))); }

/// [0, 1)
[[nodiscard]] constexpr double unit_from(std::uint64_t bits) { return static_cast<double>(bits >> 11) * 0x1.0p-53; }
/// Near-normal, mean 0, variance 1, from one draw: four 16-bit uniforms added. Bounded by 3.46, which suits grain.
[[nodiscard]] constexpr double normal_from(std::uint64_t bits) {
    const double sum = static_cast<double>((bits & 0xffff) + ((bits >> 16) & 0xffff) + ((bits >> 32) & 0xffff) + (bits >> 48));
    return (sum / 65535.0 - 2.0) * 1.7320508075688772;
}

class Random {
public:
    explicit constexpr Random(std::uint64_t seed) : state_(mix(seed)) {}
    [[nodiscard]] constexpr std::uint64_t bits() { return mix(state_++); }
    [[nodiscard]] constexpr double unit() { return unit_from(bits()); }
    [[nodiscard]] constexpr double between(double low, double high) { return low + (high - low) * unit(); }
    [[nodiscard]] constexpr double normal() { return normal_from(bits()); }
    [[nodiscard]] constexpr int below(int n) { return static_cast<int>(unit() * n); }

private:
    std::uint64_t state_;
};

/// Smooth noise in [-1, 1] with features of size 1: values on a lattice, joined by a quintic.
[[nodiscard]] inline double smooth_noise(double x, double y, std::uint64_t seed) {
    const double fx = std::floor(x), fy = std::floor(y);
    const auto ix = static_cast<std::int64_t>(fx), iy = static_cast<std::int64_t>(fy);
    const auto at = [&](std::int64_t dx, std::int64_t dy) {
        return 2 * unit_from(mix(seed, static_cast<std::uint64_t>(ix + dx) * 0x100000001b3ULL, static_cast<std::uint64_t>(iy + dy))) - 1;
    };
    const auto ease = [](double t) { return t * t * t * (t * (6 * t - 15) + 10); };
    const double u = ease(x - fx), v = ease(y - fy);
    return (at(0, 0) * (1 - u) + at(1, 0) * u) * (1 - v) + (at(0, 1) * (1 - u) + at(1, 1) * u) * v;
}

/// Octaves of smooth noise, each half as large and half as strong; about [-1, 1].
[[nodiscard]] inline double rough_noise(double x, double y, std::uint64_t seed, int octaves = 5) {
    double sum = 0, weight = 0.55;
    for (int i = 0; i < octaves; ++i) {
        sum += weight * smooth_noise(x, y, seed + static_cast<std::uint64_t>(i) * 7919);
        x = 2 * x + 19.19;
        y = 2 * y + 7.77;
        weight *= 0.5;
    }
    return sum;
}

}  // namespace synthetic
