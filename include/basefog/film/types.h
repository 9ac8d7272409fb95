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

/// What a frame shows, where the ledger says so. Only `picture` frames speak of scenes; the others are measured for what they are.
enum class FrameUse { picture, step_wedge, grey_card, colour_chart };
/// What the ledger says of a single frame.
struct FrameNote {
    FrameUse use = FrameUse::picture;
    double step = 0;              ///< of a wedge: log10 H from step to step
    std::optional<Stops> extra;   ///< exposure given beyond the meter's, as noted for a bracket
    std::optional<Kelvin> light;  ///< it was taken in, where it is not the roll's
    friend bool operator==(const FrameNote&, const FrameNote&) = default;
};

/// One frame on a grid of 0.1 mm spots (area-averaged): 360 x 240 for a full frame.
struct FrameSamples {
    FrameKind kind = FrameKind::picture;
    int number = 0;  ///< as the report names it
    FrameNote note;
    Image<DensityRgbi> above_base;  ///< density above the strip's base, read order, upright as on the strip
    Image<std::uint8_t> usable;     ///< 1 where neither residue, dust nor clipping spoils the spot
};

/// How a stock's dyes and layers mix, as a colour chart showed.
struct ChartColour {
    Matrix3 neutral_share{};     ///< of a neutral's density in each channel (row), the share of each layer; rows sum to 1
    Matrix3 scene_from_layer{};  ///< as in FilmModel
    friend bool operator==(const ChartColour&, const ChartColour&) = default;
};

/// What an earlier roll of the stock, scanned on the same scanner, was found to have; a prior, never more.
struct EarlierCurve {
    Rgb<Measured<double>> slope;  ///< of a neutral, in the scanner's channels, density per log10 H
    std::optional<double> toe_width;
    int rolls = 1;  ///< it rests on
    friend bool operator==(const EarlierCurve&, const EarlierCurve&) = default;
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
    std::string session;                      ///< rolls of one session shared their bath; empty: not told
    std::optional<EarlierCurve> earlier_curve;
    std::optional<ChartColour> earlier_colour;  ///< by a chart on an earlier roll; used where no chart is at hand
};

struct RollSamples {
    RollFacts facts;
    std::vector<FrameSamples> frames;
    Rgb<Measured<Density>> base;  ///< pooled over the roll's strips
    Rgb<double> spot_noise{};     ///< of base density at 0.1 mm
    bool silver_image = false;
    bool relative_densities = false;
    bool camera_channels = false;  ///< densities are of a camera's own channels, as RAW files hold them
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
    /// How much more exposure than by that form a density stands for, log10 H, at kNodes exposures by that form: kFirstNode and every kNodeStep further;
    /// straight in between, held beyond. All 0 unless neutrals were photographed. Rises by less than it is apart.
    static constexpr int kNodes = 17;
    static constexpr double kFirstNode = -2.0, kNodeStep = 0.3;
    std::array<double, kNodes> departure{};
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
    std::optional<ChartColour> by_chart;  ///< where unmixing and overlap rest on charts photographed on these rolls
    std::array<std::string, 4> basis{};   ///< in words: what unmixing, curves, balance, and scale rest on
    Rgb<Measured<double>> slope{};        ///< with uncertainty; flags say whether assumed
    /// Relative one-sigma of the three slopes together: exposure differences and saturation are right to this.
    double common_slope_std = 0;
    friend bool operator==(const FilmModel&, const FilmModel&) = default;
};

/// Where a neutral grey in the roll's light is lost, in stops from the stock's aim.
struct ExposureLimits {
    Stops shadow{};     ///< below: it cannot be told from base
    Stops highlight{};  ///< above: a third of a stop no longer shows
    friend bool operator==(const ExposureLimits&, const ExposureLimits&) = default;
};

struct WhatIf {
    Stops stops{};
    double shadow_lost_percent = 0, highlight_lost_percent = 0;
    friend bool operator==(const WhatIf&, const WhatIf&) = default;
};

struct FrameExposure {
    Measured<Stops> offset{};  ///< against the stock's aim; one scale for all rolls of a stock
    /// How well the frame's level is read off the film, the common slope and the scene's own key apart: two frames of one scene differ by their
    /// offsets' difference, give or take this of each and the common slope's share of the difference.
    Stops reading_std{};
    Measured<double> shadow_lost_percent{};     ///< cannot be told from base: below 2 sigma of a 0.1 mm spot
    Measured<double> highlight_lost_percent{};  ///< on the shoulder or at the scan's limit, where steps vanish
    std::vector<WhatIf> what_if;                ///< -3 to +3 stops in halves
    LogExposure render_level{};                 ///< log10 H that is shown as 18 % grey in the positive
    /// Between which exposures the picture's tones lie, 2 % being darker and 2 % brighter: log10 H on the scale of `offset`.
    LogExposure darkest{}, brightest{};
    Rgb<LogExposure> light_shift{};  ///< comes on top of the model's balance: the frame was taken in another light than the roll (RollFilm::other_lights)
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
    double highlight_lost_percent = 0;      ///< over the roll, as shot
    std::optional<Stops> lacking;           ///< stops more that would have kept all but an unseen share of the shadows
    std::optional<int> worst_frame;         ///< index among the roll's frames: the one that lost most shadow
    double worst_shadow_lost_percent = 0;
    int frames = 0;               ///< pictures it rests on
    std::vector<WhatIf> what_if;  ///< mean over these pictures, in rising order of stops; empty without pictures
    friend bool operator==(const Verdict&, const Verdict&) = default;
};

/// Noise of a 0.1 mm spot and RMS granularity in a 48 um aperture [ISO10505, from memory], at a density above base.
struct GrainPoint {
    Rgb<double> density{}, spot_noise{};
    Rgb<double> granularity{};  ///< RMS, density x 1000
    friend bool operator==(const GrainPoint&, const GrainPoint&) = default;
};

/// What a photographed wedge's steps showed: the curve as measured, nothing assumed.
struct WedgeStep {
    LogExposure exposure{};  ///< log10 H from the wedge's least exposed step found
    Rgb<double> density{};   ///< above base
    friend bool operator==(const WedgeStep&, const WedgeStep&) = default;
};
struct Wedge {
    int frame = 0;  ///< index among the roll's frames
    std::vector<WedgeStep> steps;
    friend bool operator==(const Wedge&, const Wedge&) = default;
};

/// The roll's speed, by its pictures and the rating it was shot at.
struct RollSpeed {
    /// Rating at which metered pictures would lie on this film as a stock's aim has it. sigma in stops beside it, as it is a ratio.
    std::optional<double> effective_index;
    Stops effective_index_std{};
    Measured<Stops> loss{};  ///< against the mean of the rolls it was fitted with; positive is slower
    friend bool operator==(const RollSpeed&, const RollSpeed&) = default;
};

/// Frames of a roll in another light than the rest, balanced by themselves.
struct OtherLight {
    std::vector<int> frames;     ///< indices among the roll's frames
    Rgb<LogExposure> shift{};    ///< of a neutral's exposures against the roll's light
    Rgb<double> shift_std{};     ///< log10 H
    std::optional<Kelvin> told;  ///< none: recognised
    double probability = 1;      ///< that they are in another light
    std::string basis;           ///< in words: what this rests on
    friend bool operator==(const OtherLight&, const OtherLight&) = default;
};

struct RollFilm {
    FilmModel model;
    std::vector<FrameExposure> frames;  ///< as in RollSamples
    Verdict verdict;
    ExposureLimits limits;
    RollSpeed speed;
    std::vector<Wedge> wedges;
    std::vector<GrainPoint> grain;
    std::vector<OtherLight> other_lights;
    std::vector<Finding> findings;
};

/// One roll beside others of its stock, or of stocks alike.
struct RollComparison {
    std::string roll, stock;
    std::optional<double> rating, box_speed;
    Rgb<Measured<Density>> base;
    Rgb<Measured<Density>> fog;  ///< base above that of the comparison's clearest roll
    Rgb<Measured<double>> slope;
    Measured<double> red_to_green, blue_to_green;  ///< slopes' ratios: the crossover
    Rgb<double> granularity;                       ///< RMS of the base in a 48 um aperture, density x 1000
    Rgb<double> granularity_at_1;                  ///< and at a density of 1 above base, where the pictures show it; else 0
    RollSpeed speed;
    double shadow_lost_percent = 0, highlight_lost_percent = 0;
    friend bool operator==(const RollComparison&, const RollComparison&) = default;
};
struct StockComparison {
    std::string name;  ///< of the stock, or of the stocks alike, joined by " / "
    std::string process;
    std::string clearest;               ///< the roll fog is counted from
    std::vector<RollComparison> rolls;  ///< least fogged first
    std::string text;                   ///< the main differences in words
    friend bool operator==(const StockComparison&, const StockComparison&) = default;
};

struct StockFilm {
    std::vector<RollFilm> rolls;                ///< as given
    std::optional<StockComparison> comparison;  ///< two rolls or more
};

}  // namespace basefog
