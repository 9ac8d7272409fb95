// SPDX-License-Identifier: GPL-3.0-or-later
// A roll's film as its pictures reveal it: unmixing, the three layers' curves, each frame's exposure, the verdict.
#pragma once

#include "basefog/core/finding.h"
#include "basefog/core/image.h"
#include "basefog/core/measured.h"
#include "basefog/core/units.h"
#include "basefog/frames/types.h"

#include <array>
#include <optional>
#include <string>
#include <vector>

namespace basefog {

/// Row-major 3 x 3.
using Matrix3 = std::array<std::array<double, 3>, 3>;

/// One frame on a grid of 0.1 mm spots (area-averaged): 360 x 240 for a full frame.
struct FrameSamples {
    FrameKind kind = FrameKind::picture;
    Image<DensityRgbi> above_base;  ///< density above the strip's base, read order, upright as on the strip
    Image<std::uint8_t> usable;     ///< 1 where neither residue, dust nor clipping spoils the spot
};

/// What the ledger (or nobody) knows of the roll; plain values, so that this stage needs no ledger.
struct RollFacts {
    std::string id, stock;
    std::optional<double> box_speed;          ///< exposure index on the box (ISO)
    std::optional<double> rating;             ///< exposure index it was shot at
    std::optional<Kelvin> stock_balance;      ///< colour temperature the stock is balanced for
    std::optional<Kelvin> light;              ///< it was mostly shot in
    double filter_mired = 0;                  ///< shift of the filter on the lens; positive is warming
    bool black_and_white_told = false;        ///< the ledger says so
    std::string process;                      ///< "C-41", "ECN-2", ...
    std::string own_process;                  ///< the stock's own
    std::optional<double> years_past_expiry;  ///< shown beside the measurements; never used to derive them
};

struct RollSamples {
    RollFacts facts;
    std::vector<FrameSamples> frames;
    Rgb<Measured<Density>> base;  ///< pooled over the roll's strips
    Rgb<double> spot_noise{};     ///< of base density at 0.1 mm
    bool silver_image = false;
    bool relative_densities = false;
};

/// Density of one layer's dye above its fog against log10 exposure: toe, straight line, shoulder. Strictly monotone.
///   d(h) = slope * (softplus(h - toe; toe_width) - softplus(h - shoulder; shoulder_width))
/// with softplus(x; w) = w * ln(1 + exp(x / w)).
struct LayerCurve {
    double slope = 0.6;     ///< of the straight line, density per log10 H
    LogExposure toe{-1.0};  ///< where the straight line, prolonged, meets the fog
    double toe_width = 0.11;
    LogExposure shoulder{1.9};
    double shoulder_width = 0.28;
    [[nodiscard]] Density at(LogExposure h) const;
    /// Clamped to the exposures where the curve still rises measurably; never NaN.
    [[nodiscard]] LogExposure exposure(Density above_fog) const;
    friend bool operator==(const LayerCurve&, const LayerCurve&) = default;
};

/// When a highlight counts as lost: this far up the straight line or beyond, a step of a third of a stop changes the densities by less than can be
/// told, or every layer's slope has fallen under this share of its straight line's. Chosen; the film stage measures by it, the report
/// draws it.
struct HighlightRule {
    static constexpr double kStep = 0.1;        ///< log10 H
    static constexpr double kLeastSlope = 0.1;  ///< share of the straight line's
    static constexpr double kFarUp = 0.75;      ///< of the way from toe to shoulder: below, no shoulder can be near
};

/// log10 H = 0 stands for an 18 % grey exposed as the stock's aim has it: a convention (pictures cannot fix it), the same for every roll of a stock.
struct FilmModel {
    bool silver = false;                                          ///< black-and-white: one layer, channels are averaged
    Matrix3 dye_from_channel{{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};  ///< dye amounts from channel densities above base
    Rgb<LayerCurve> curves;
    Rgb<LogExposure> balance;   ///< subtracted from each layer's exposure: makes neutrals neutral
    Rgb<double> balance_std{};  ///< log10 H, one sigma
    /// Scene light (linear RGB) from the three layers' exposures, balance taken off: undoes the overlap of the layers'
    /// sensitivities. Rows sum to 1, so that neutrals stay; the identity where nothing is assumed. Apply to linear values.
    Matrix3 scene_from_layer{{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};
    std::array<std::string, 4> basis{};  ///< in words: what unmixing, curves, balance, and scale rest on
    Rgb<Measured<double>> slope{};       ///< with uncertainty; flags say whether assumed
    friend bool operator==(const FilmModel&, const FilmModel&) = default;
};

struct WhatIf {
    Stops stops{};
    double shadow_lost_percent = 0, highlight_lost_percent = 0;
    friend bool operator==(const WhatIf&, const WhatIf&) = default;
};

struct FrameExposure {
    Measured<Stops> offset{};                   ///< against the stock's aim; one scale for all rolls of a stock
    Measured<double> shadow_lost_percent{};     ///< cannot be told from base: below 2 sigma of a 0.1 mm spot
    Measured<double> highlight_lost_percent{};  ///< on the shoulder or at the scan's limit, where steps vanish
    std::vector<WhatIf> what_if;                ///< -3 to +3 stops in halves
    LogExposure render_level{};                 ///< log10 H that is shown as 18 % grey in the positive
    friend bool operator==(const FrameExposure&, const FrameExposure&) = default;
};

enum class Outcome { at_box_speed, paid_off, more_than_needed, not_enough, cannot_tell };
struct Verdict {
    Outcome outcome = Outcome::cannot_tell;
    std::string text;                       ///< plain words, the numbers behind them included
    std::optional<Stops> rated_over;        ///< stops of extra exposure against box speed
    double shadow_lost_percent = 0;         ///< over the roll, as shot
    double shadow_lost_at_box_percent = 0;  ///< predicted, had it been shot at box speed
    std::optional<Stops> spare;             ///< stops that could go before shadows are lost
    friend bool operator==(const Verdict&, const Verdict&) = default;
};

/// Noise of a 0.1 mm spot and RMS granularity in a 48 um aperture [ISO10505, from memory], at a density above base.
struct GrainPoint {
    Rgb<double> density{}, spot_noise{};
    friend bool operator==(const GrainPoint&, const GrainPoint&) = default;
};

struct RollFilm {
    FilmModel model;
    std::vector<FrameExposure> frames;  ///< as in RollSamples
    Verdict verdict;
    std::vector<GrainPoint> grain;
    std::vector<Finding> findings;
};

}  // namespace basefog
