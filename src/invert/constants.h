// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers of the invert stage, each with its reason. Defined: by a standard. Chosen: ours; the test that moves it is named.
#pragma once

#include <array>
#include <cstdint>

namespace basefog::invert {

/// Defined: the reflectance "18 % grey" that exposure is counted from.
inline constexpr double kMidGrey = 0.18;

/// Defined [IEC61966-2-1]: luminance of the linear sRGB primaries, the row Y of its RGB -> XYZ matrix (derived to more digits from the chromaticities).
inline constexpr std::array<double, 3> kLuminance{0.2126390, 0.7151687, 0.0721923};

/// Chosen: standard deviation of density in clear film at one pixel when nobody measured it. Fine-grained stock at 800 dpi shows
/// about half of it, old fast stock at 3200 dpi several times as much. Safe range 0.003 to 0.05. (inverter_test: shadows)
inline constexpr double kAssumedBaseNoise = 0.01;
/// Chosen: below this many sigma a density cannot be told from base (the same 2 sigma the report's lost shadows use); light then
/// runs smoothly to black, instead of following the curve's toe, whose inverse has an infinite slope at the base. (inverter_test: shadows)
inline constexpr double kTellable = 2.0;
/// Below base by this many sigma, light has faded to black. Chosen: noise about the base then moves light softly within the fade, instead of cutting
/// it to black at every other grain.
inline constexpr double kBlackBelow = 1.5;
/// Chosen: the strongest layer's light, in units of the least light that all three layers tell from base, where colour begins and where
/// it is fully trusted. Below the first a neutral would take the colour of whichever layer gives out last. (inverter_test: shadows)
inline constexpr double kColourBegins = 1.0;
inline constexpr double kColourTrusted = 3.0;

/// Chosen: of what the other layers' dyes are taken to add to a layer's channel, the share that its own dye is at least. Shares of the layers are known to a
/// quarter or so (docs/stages/film.md); where a thin shadow's dye is less, black would go to a layer that is only overcorrected. Safe range 0.1 to 0.35.
/// (inverter_test: overcorrected)
inline constexpr double kLeastOfOthers = 0.25;

/// Chosen: where the shoulder begins. Below it tone changes nothing but the toe; a scene white of 1 lands on 0.855, the
/// lightness of good paper (L* 94), and a highlight two stops above it on 0.99. Safe range 0.3 to 0.7. (tone_test)
inline constexpr double kToneKnee = 0.5;

/// Chosen: scene light is bounded by this, five stops above a scene white of 1. On a film's shoulder, where a hundredth of density is
/// stops of light, more would be noise; tone shows it as white anyhow. Safe range 16 to 1000. (inverter_test: tables)
inline constexpr double kBrightest = 32;

/// Chosen: dye a layer must hold to have a say in a balance out of one picture; the toe below is noise. Safe range 0.02 to 0.1. (balance_test)
inline constexpr double kLeastDye = 0.04;
/// Chosen: reach of the robust centre of a picture's colours, log10 exposure: what is further off weighs nothing. Two thirds of a stop, the distance of a
/// moderately strong colour from grey; safe range 0.1 to 0.4. (balance_test)
inline constexpr double kBalanceReach = 0.2;
inline constexpr int kBalanceRounds = 20;

/// Chosen: how much of a pixel's distance from its cell's mean is taken for noise in the deepest shadows, of colour and of grey: colour nearly all, as the
/// eye sees colour coarsely; of grey so much is left that grain looks like grain. Safe ranges 0.8 to 1 and 0.4 to 0.8. (shadow_test)
inline constexpr double kChromaCalm = 0.95;
inline constexpr double kGreyCalm = 0.6;
/// Chosen: height of the mean above base, in sigmas of one pixel, from which colour and grey are left alone; they begin to be at a quarter of it. At 12
/// sigma noise of one pixel moves light by a fifth of a stop. Safe ranges 6 to 15 and 3 to 6. (shadow_test)
inline constexpr double kChromaCalmEnds = 12;
inline constexpr double kGreyCalmEnds = 4;
/// Chosen: distance from the mean, in sigmas, up to which a pixel may be all noise, and from which it is all picture. (shadow_test: a star)
inline constexpr double kNoiseLike = 3;
inline constexpr double kPictureLike = 5;

/// Chosen: share of the chroma a gamut holds up to which colours are shown as they are; beyond, they are drawn in, the surface itself to 0.956 of the way.
/// Nearer to 1 keeps more colours exact and crowds the rest. Safe range 0.7 to 0.95. (gamut_test)
inline constexpr double kGamutKnee = 0.85;
/// Chosen: nodes of a layer's table, uniform in the square root of density; accuracy measured in docs/stages/invert.md. (inverter_test: tables)
inline constexpr int kLayerNodes = 20480;
/// Chosen: nodes of an encoding table, uniform in the square root of light. (profile_test)
inline constexpr int kEncodeNodes = 4096;

/// Chosen: the resampling kernel's half width (Lanczos windowed sinc) and the sub-pixel positions it is tabulated at:
/// a position is off by 1/1024 pixel at most. (render_test)
inline constexpr int kKernelRadius = 3;
inline constexpr int kKernelTaps = 2 * kKernelRadius;
inline constexpr int kKernelPhases = 512;

/// Chosen: rows a writer that is fed by bands holds: two of the resampler's blocks, 10 MB at 5000 pixels across.
inline constexpr std::int64_t kWriterBandRows = 128;

/// Chosen: gamma of the wide output space: 2.2 as an ICC curve of version 2 stores it (u8Fixed8, 563/256), so that both ICC versions agree.
inline constexpr double kWideGamma = 563.0 / 256.0;

}  // namespace basefog::invert
