// SPDX-License-Identifier: GPL-3.0-or-later
// From density above base to scene-linear light: unmixing, each layer's curve inverted, balance and level taken off.
// `scene` is exact and slow; `scene_row` reads tables made of it. See docs/stages/invert.md.
#pragma once

#include "basefog/core/image.h"
#include "basefog/core/units.h"
#include "basefog/film/types.h"
#include "invert/constants.h"

#include <array>
#include <cstdint>
#include <vector>

namespace basefog::invert {

class FilmLight {
public:
    /// `colour_noise`: as `base_noise`, of the differences between layers; at most that.
    FilmLight(const FilmModel& model, const Rgb<Density>& base, LogExposure render_level, double base_noise, double colour_noise);

    [[nodiscard]] SceneRgb scene(DensityRgbi density) const;
    /// The same for `n` pixels with their channels apart: absolute densities in, scene light out, in place. Any finite or NaN input.
    void scene_row(float* r, float* g, float* b, std::int64_t n) const;
    [[nodiscard]] bool silver() const { return silver_; }

private:
    /// A layer's light over its dye density, from `least_` to `end`; beyond them the end values hold. Nodes are uniform in the square root of
    /// the density above `least_`: dense in the toe, where light bends most.
    struct Table {
        std::vector<float> light;
        float nodes_per_root = 1, end = 1;
    };
    /// Densities to what tables are read by.
    void above_least(float* values, const Table& table, std::int64_t n) const;
    /// By the curve alone, and faded to black where it cannot be told from base.
    [[nodiscard]] double curve_light(int layer, double dye) const;
    [[nodiscard]] double layer_light(int layer, double dye) const;
    [[nodiscard]] Table make_table(int layer) const;
    static void read_table(const Table& table, float* values, std::int64_t n);
    void unmix_row(float* r, float* g, float* b, std::int64_t n) const;
    void to_scene_row(float* r, float* g, float* b, const float* colour, std::int64_t n) const;
    void silver_row(float* r, float* g, float* b, std::int64_t n) const;

    bool silver_;
    Matrix3 dye_from_channel_;
    Rgb<double> base_;
    Rgb<LayerCurve> curves_;
    Matrix3 scene_from_layer_;
    Rgb<double> offset_;     ///< balance + level, log10 H
    double least_told_ = 0;  ///< scene light above which every layer can be told from base
    double noise_;           ///< density, one sigma, at one pixel of clear film
    double least_ = 0;       ///< density under which light is black
    std::array<Table, 3> tables_;
};

}  // namespace basefog::invert
