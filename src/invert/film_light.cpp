// SPDX-License-Identifier: GPL-3.0-or-later
#include "invert/film_light.h"

#include "basefog/core/wide.h"

#include <algorithm>
#include <cmath>

namespace basefog::invert {
namespace {

// Densities are kept where the density stage clamps them; NaN counts as "no light came through", as in to_density.
constexpr double kLowestDensity = -0.3;
template <class T>
BASEFOG_INLINE T bounded_density(T d) {
    d = d < T(kMaxDensity) ? d : T(kMaxDensity);
    return d > T(kLowestDensity) ? d : T(kLowestDensity);
}

/// 0 below `from`, 1 above `to`, with a smooth passage.
template <class T>
BASEFOG_INLINE T smoothstep(T x, T from, T to) {
    T t = (x - from) / (to - from);
    t = t > T(0) ? t : T(0);
    t = t < T(1) ? t : T(1);
    return t * t * (T(3) - T(2) * t);
}

double finite_or(double value, double otherwise) { return std::isfinite(value) ? value : otherwise; }

}  // namespace

FilmLight::FilmLight(const FilmModel& model, const Rgb<Density>& base, LogExposure render_level, double base_noise, double colour_noise)
    : silver_(model.silver),
      dye_from_channel_(model.dye_from_channel),
      curves_(model.curves),
      scene_from_layer_(model.scene_from_layer),
      noise_(std::clamp(finite_or(base_noise, kAssumedBaseNoise), 1e-4, 0.2)) {
    for (int c = 0; c < 3; ++c) {
        base_[c] = finite_or(base[c].value(), 0);
        offset_[c] = finite_or(model.balance[c].value(), 0) + finite_or(render_level.value(), 0);
    }
    least_ = -kBlackBelow * noise_;
    for (int c = 0; c < 3; ++c)
        if (!silver_ || c == 1) tables_[c] = make_table(c);
    for (int c = 0; c < 3; ++c) least_told_ = std::max(least_told_, curve_light(c, kTellable * std::clamp(finite_or(colour_noise, noise_), 1e-4, noise_)));
}

double FilmLight::curve_light(int layer, double dye) const {
    return std::min(kMidGrey * std::pow(10.0, curves_[layer].exposure(Density(dye)).value() - offset_[layer]), kBrightest);
}

double FilmLight::layer_light(int layer, double dye) const {
    const double tellable = kTellable * noise_;
    return curve_light(layer, std::max(dye, 0.1 * tellable)) * smoothstep(dye, least_, tellable);
}

SceneRgb FilmLight::scene(DensityRgbi density) const {
    const std::array<double, 3> above{bounded_density(double(density.r)) - base_.r, bounded_density(double(density.g)) - base_.g,
                                      bounded_density(double(density.b)) - base_.b};
    if (silver_) {
        const float light = static_cast<float>(layer_light(1, (above[0] + above[1] + above[2]) / 3));
        return {light, light, light};
    }
    std::array<double, 3> light{};
    for (int layer = 0; layer < 3; ++layer) {
        const auto& row = dye_from_channel_[layer];
        double dye = 0, others = 0;
        for (int c = 0; c < 3; ++c) {
            dye += row[c] * above[c];
            if (c != layer) others += std::max(0.0, -row[c] * above[c]);
        }
        light[layer] = layer_light(layer, std::max(dye, least_ + kLeastOfOthers * others));
    }
    std::array<double, 3> scene{};
    for (int i = 0; i < 3; ++i)
        for (int layer = 0; layer < 3; ++layer) scene[i] += scene_from_layer_[i][layer] * light[layer];
    const double grey = std::max(0.0, kLuminance[0] * scene[0] + kLuminance[1] * scene[1] + kLuminance[2] * scene[2]);
    const double colour = smoothstep(std::max({light[0], light[1], light[2]}), kColourBegins * least_told_, kColourTrusted * least_told_);
    for (double& value : scene) value = grey + colour * (value - grey);
    return {static_cast<float>(scene[0]), static_cast<float>(scene[1]), static_cast<float>(scene[2])};
}

FilmLight::Table FilmLight::make_table(int layer) const {
    // The table ends where the curve stops telling exposures apart: beyond, `exposure` is clamped and so is the light.
    double low = 0.1, high = 8;
    const double brightest = layer_light(layer, high);
    for (int i = 0; i < 40; ++i) {
        const double middle = (low + high) / 2;
        (layer_light(layer, middle) < brightest ? low : high) = middle;
    }
    Table table;
    const double reach = high - least_;
    table.end = static_cast<float>(reach);
    table.nodes_per_root = static_cast<float>(kLayerNodes / std::sqrt(reach));
    table.light.resize(kLayerNodes + 2);  // one more, so that the last node has a right neighbour
    for (int i = 0; i < kLayerNodes + 2; ++i) {
        const double root = std::min(i, kLayerNodes) * std::sqrt(reach) / kLayerNodes;
        table.light[i] = static_cast<float>(layer_light(layer, root * root + least_));
    }
    return table;
}

BASEFOG_WIDE void FilmLight::above_least(float* values, const Table& table, std::int64_t n) const {
    const float least = static_cast<float>(least_), end = table.end;
    for (std::int64_t i = 0; i < n; ++i) {
        const float above = values[i] - least, held = above < end ? above : end;
        values[i] = held > 0.0f ? held : 0.0f;
    }
}

BASEFOG_WIDE void FilmLight::read_table(const Table& table, float* __restrict values, std::int64_t n) {
    const float* const __restrict light = table.light.data();
    const float nodes_per_root = table.nodes_per_root;
    for (std::int64_t i = 0; i < n; ++i) {
        const float at = std::sqrt(values[i]) * nodes_per_root;
        const int node = static_cast<int>(at);
        const float part = at - static_cast<float>(node);
        values[i] = light[node] + part * (light[node + 1] - light[node]);
    }
}

BASEFOG_WIDE void FilmLight::unmix_row(float* r, float* g, float* b, std::int64_t n) const {
    constexpr float kLeast = static_cast<float>(kLeastOfOthers);
    const float black = static_cast<float>(least_);
    float m[3][3], base[3];
    for (int i = 0; i < 3; ++i) {
        for (int j = 0; j < 3; ++j) m[i][j] = static_cast<float>(dye_from_channel_[i][j]);
        base[i] = static_cast<float>(base_[i]);
    }
    for (std::int64_t i = 0; i < n; ++i) {
        const float dr = bounded_density(r[i]) - base[0], dg = bounded_density(g[i]) - base[1], db = bounded_density(b[i]) - base[2];
        // What the other layers' dyes are taken to add to a channel.
        const auto taken = [](float row, float above) {
            const float x = -row * above;
            return x > 0.0f ? x : 0.0f;
        };
        const float least_r = black + kLeast * (taken(m[0][1], dg) + taken(m[0][2], db)), least_g = black + kLeast * (taken(m[1][0], dr) + taken(m[1][2], db)),
                    least_b = black + kLeast * (taken(m[2][0], dr) + taken(m[2][1], dg));
        const float dye_r = m[0][0] * dr + m[0][1] * dg + m[0][2] * db, dye_g = m[1][0] * dr + m[1][1] * dg + m[1][2] * db,
                    dye_b = m[2][0] * dr + m[2][1] * dg + m[2][2] * db;
        r[i] = dye_r > least_r ? dye_r : least_r;
        g[i] = dye_g > least_g ? dye_g : least_g;
        b[i] = dye_b > least_b ? dye_b : least_b;
    }
}

/// Layer light to scene light, its colour as far as it is trusted.
BASEFOG_WIDE void FilmLight::to_scene_row(float* r, float* g, float* b, const float* colour, std::int64_t n) const {
    float m[3][3];
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) m[i][j] = static_cast<float>(scene_from_layer_[i][j]);
    const float lr = static_cast<float>(kLuminance[0]), lg = static_cast<float>(kLuminance[1]), lb = static_cast<float>(kLuminance[2]);
    for (std::int64_t i = 0; i < n; ++i) {
        const float x = m[0][0] * r[i] + m[0][1] * g[i] + m[0][2] * b[i];
        const float y = m[1][0] * r[i] + m[1][1] * g[i] + m[1][2] * b[i];
        const float z = m[2][0] * r[i] + m[2][1] * g[i] + m[2][2] * b[i];
        const float luminance = lr * x + lg * y + lb * z, grey = luminance > 0.0f ? luminance : 0.0f;
        r[i] = grey + colour[i] * (x - grey);
        g[i] = grey + colour[i] * (y - grey);
        b[i] = grey + colour[i] * (z - grey);
    }
}

BASEFOG_WIDE void FilmLight::silver_row(float* r, float* g, float* b, std::int64_t n) const {
    const float base = static_cast<float>(base_.r + base_.g + base_.b);
    for (std::int64_t i = 0; i < n; ++i) g[i] = (bounded_density(r[i]) + bounded_density(g[i]) + bounded_density(b[i]) - base) * (1.0f / 3);
    above_least(g, tables_[1], n);
    read_table(tables_[1], g, n);
    std::copy(g, g + n, r);
    std::copy(g, g + n, b);
}

BASEFOG_WIDE void FilmLight::scene_row(float* r, float* g, float* b, std::int64_t n) const {
    constexpr std::int64_t kBlock = 128;
    if (silver_) return silver_row(r, g, b, n);
    float colour[kBlock];
    for (std::int64_t start = 0; start < n; start += kBlock, r += kBlock, g += kBlock, b += kBlock) {
        const std::int64_t m = std::min(kBlock, n - start);
        unmix_row(r, g, b, m);
        float* const channels[3] = {r, g, b};
        for (int c = 0; c < 3; ++c) {
            above_least(channels[c], tables_[c], m);
            read_table(tables_[c], channels[c], m);
        }
        const float from = static_cast<float>(kColourBegins * least_told_), to = static_cast<float>(kColourTrusted * least_told_);
        for (std::int64_t i = 0; i < m; ++i) colour[i] = smoothstep(std::max(std::max(r[i], g[i]), b[i]), from, to);
        to_scene_row(r, g, b, colour, m);
    }
}

}  // namespace basefog::invert
