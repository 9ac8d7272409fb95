// SPDX-License-Identifier: GPL-3.0-or-later
// A film of the tests' own: three unequal layers and mixed channels. Its forward model is written here from the formulas in
// docs/stages/film.md, and calls none of the library's conversions, so that inverting it is a check and not a circle.
#pragma once

#include "basefog/invert/inverter.h"

#include <array>
#include <cmath>

namespace basefog::test {

/// A part of an invented scan.
struct Crop {
    PxRect rect;
    Image<LinearRgbi> pixels;  ///< rect's size
    [[nodiscard]] ViewSource source() const { return {rect, pixels.view()}; }
};

struct FilmWorld {
    // Invented, of the size such films have.
    std::array<double, 3> slope{0.62, 0.66, 0.72}, toe{-1.02, -0.95, -0.90}, toe_width{0.10, 0.11, 0.13}, shoulder{1.9, 1.95, 1.8};
    double shoulder_width = 0.28;
    std::array<double, 3> base{0.24, 0.66, 0.93}, balance{-0.12, 0.0, 0.16};
    double level = 0.21;
    // Density of each channel per unit of each dye (rows: channels).
    std::array<std::array<double, 3>, 3> channel_from_dye{{{1.0, 0.06, 0.02}, {0.10, 1.0, 0.05}, {0.04, 0.17, 1.0}}};
    bool silver = false;

    [[nodiscard]] static double softplus(double x, double w) { return w * (std::max(x / w, 0.0) + std::log1p(std::exp(-std::fabs(x / w)))); }
    /// Scene light (0.18 = the render level, balanced) to densities.
    [[nodiscard]] DensityRgbi expose(double r, double g, double b) const {
        const double light[3] = {r, g, b};
        double dye[3], density[3];
        for (int i = 0; i < 3; ++i) {
            const int layer = silver ? 1 : i;
            const double h = std::log10(light[i] / 0.18) + balance[layer] + level;
            dye[i] = slope[layer] * (softplus(h - toe[layer], toe_width[layer]) - softplus(h - shoulder[layer], shoulder_width));
        }
        for (int i = 0; i < 3; ++i) {
            density[i] = base[i];
            for (int j = 0; j < 3; ++j) density[i] += (silver ? (i == j) : channel_from_dye[i][j]) * dye[j];
        }
        return {static_cast<float>(density[0]), static_cast<float>(density[1]), static_cast<float>(density[2]), 0};
    }
    [[nodiscard]] FilmModel model() const {
        FilmModel model;
        model.silver = silver;
        const auto& m = channel_from_dye;
        const double det = m[0][0] * (m[1][1] * m[2][2] - m[1][2] * m[2][1]) - m[0][1] * (m[1][0] * m[2][2] - m[1][2] * m[2][0]) +
                           m[0][2] * (m[1][0] * m[2][1] - m[1][1] * m[2][0]);
        for (int i = 0; i < 3; ++i)
            for (int j = 0; j < 3; ++j) {
                const int a = (j + 1) % 3, b = (j + 2) % 3, c = (i + 1) % 3, d = (i + 2) % 3;
                model.dye_from_channel[i][j] = (m[a][c] * m[b][d] - m[a][d] * m[b][c]) / det;
            }
        for (int i = 0; i < 3; ++i) {
            model.curves[i] = LayerCurve{slope[i], LogExposure(toe[i]), toe_width[i], LogExposure(shoulder[i]), shoulder_width};
            model.balance[i] = LogExposure(balance[i]);
        }
        return model;
    }
    [[nodiscard]] Inverter inverter(const InvertOptions& options = {}, std::optional<Density> noise = std::nullopt) const {
        return Inverter(model(), {Density(base[0]), Density(base[1]), Density(base[2])}, LogExposure(level), options, noise);
    }
};

/// The tests' own seeded numbers, uniform in [0, 1).
class Random {
public:
    explicit Random(std::uint64_t seed) : state_(seed) {}
    double operator()() {
        state_ = state_ * 6364136223846793005ULL + 1442695040888963407ULL;
        return static_cast<double>(state_ >> 11) * 0x1p-53;
    }

private:
    std::uint64_t state_;
};

}  // namespace basefog::test
