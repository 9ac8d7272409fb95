// SPDX-License-Identifier: GPL-3.0-or-later
// Densities of a sheet: the light they are relative to, and each strip's base.
#pragma once

#include "basefog/core/finding.h"
#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/measured.h"
#include "basefog/core/units.h"

#include <array>
#include <cmath>
#include <vector>

namespace basefog {

/// Bare light over the sheet: a smooth field per channel (order r, g, b, ir), and the stray light added to it.
/// ln light(x, y) = sum of coefficient[channel][k] * term k, terms 1, u, v, u^2, uv, v^2 with
/// u, v = position / sheet size * 2 - 1.
struct LightField {
    static constexpr int kTerms = 6;
    std::array<std::array<double, kTerms>, 4> coefficient{};
    LinearRgbi flare{};                ///< light read where none passes; subtracted before dividing
    double scan_width = 1, scan_height = 1;
    bool from_bare_light = false;      ///< false: densities are relative to the clearest film in view
    std::int64_t n = 0;                ///< samples
    double residual_std = 0;           ///< of ln light, about the fit

    /// Light expected at a position (full-scan pixels), flare not included.
    [[nodiscard]] LinearRgbi at(PointPx p) const;
    /// Density of one sample there; clamped to [-0.3, kMaxDensity].
    [[nodiscard]] DensityRgbi density(LinearRgbi sample, PointPx p) const;
    /// The same for one channel (0 to 3) of `n` samples, in place, at first + i * step; to 1e-6.
    void density_row(std::size_t channel, float* samples, std::int64_t n, PointPx first, PointPx step) const;
};

struct StripBase {
    Rgb<Measured<Density>> base;       ///< base + fog (with the mask), each channel
    Measured<Density> base_ir{};       ///< meaningful when the scan has infrared
    Rgb<double> noise{};               ///< standard deviation of base density at a 0.1 mm spot
    bool silver_image = false;         ///< black-and-white: the base carries no orange mask
    friend bool operator==(const StripBase&, const StripBase&) = default;
};

/// Bases this close in both colour differences carry the same mask. Chosen: stocks differ by some hundredths.
inline constexpr double kSameMask = 0.006;
/// Base densities; a neutral veil over one of them changes nothing.
[[nodiscard]] inline bool same_mask(const Rgb<double>& a, const Rgb<double>& b) {
    const double gr = (a.g - a.r) - (b.g - b.r), bg = (a.b - a.g) - (b.b - b.g);
    return std::abs(gr) < kSameMask && std::abs(bg) < kSameMask;
}

struct SheetDensity {
    LightField light;
    std::vector<StripBase> strips;     ///< as in the layout
    Image<DensityRgbi> density;        ///< overview size
    bool relative = false;             ///< no bare light in view
    std::vector<Finding> findings;
};

}  // namespace basefog
