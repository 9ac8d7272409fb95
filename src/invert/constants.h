// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers of the invert stage, each with its reason. Defined: by a standard. Chosen: ours; the test that moves it is named.
#pragma once

#include <array>

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
/// Chosen: the strongest layer's light, in units of the least light that all three layers tell from base, where colour begins and where
/// it is fully trusted. Below the first a neutral would take the colour of whichever layer gives out last. (inverter_test: shadows)
inline constexpr double kColourBegins = 1.0;
inline constexpr double kColourTrusted = 3.0;

/// Chosen: light that a print's black eats, in display-linear light; tone(x) = x^2 / (x + toe), scaled to keep mid-grey. Small, so
/// that shadows stay where the scene had them: at L* 20 the lightness moves by less than 0.5. (tone_test)
inline constexpr double kToneToe = 0.0015;
/// Chosen: where the shoulder begins. Below it tone changes nothing but the toe; a scene white of 1 lands on 0.855, the
/// lightness of good paper (L* 94), and a highlight two stops above it on 0.99. Safe range 0.3 to 0.7. (tone_test)
inline constexpr double kToneKnee = 0.5;

/// Chosen: scene light is bounded by this, five stops above a scene white of 1. On a film's shoulder, where a hundredth of density is
/// stops of light, more would be noise; tone shows it as white anyhow. Safe range 16 to 1000. (inverter_test: tables)
inline constexpr double kBrightest = 32;

/// Chosen: nodes of a layer's table, uniform in the square root of density; accuracy measured in docs/stages/invert.md. (inverter_test: tables)
inline constexpr int kLayerNodes = 12288;
/// Chosen: nodes of an encoding table, uniform in the square root of light. (profile_test)
inline constexpr int kEncodeNodes = 4096;

/// Chosen: the resampling kernel's half width (Lanczos windowed sinc) and the sub-pixel positions it is tabulated at:
/// a position is off by 1/1024 pixel at most. (render_test)
inline constexpr int kKernelRadius = 3;
inline constexpr int kKernelTaps = 2 * kKernelRadius;
inline constexpr int kKernelPhases = 512;

/// Chosen: gamma of the wide output space: 2.2 as an ICC curve of version 2 stores it (u8Fixed8, 563/256), so that both ICC versions agree.
inline constexpr double kWideGamma = 563.0 / 256.0;

}  // namespace basefog::invert
