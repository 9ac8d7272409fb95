// SPDX-License-Identifier: GPL-3.0-or-later
// The layers' curves before the pictures are asked, and with their slopes corrected.
#pragma once

#include "basefog/film/types.h"
#include "film/constants.h"

#include <array>
#include <string>

namespace basefog::film {

/// What is assumed of a roll's curves.
struct CurvePrior {
    Rgb<LayerCurve> curves;                                ///< slopes as a neutral shows them in the scanner's channels
    double common_std = kSlopeStd;                         ///< relative, of all three slopes together
    std::array<double, 3> channel_std = kChannelSlopeStd;  ///< relative, of each beside that
    std::string basis;                                     ///< in words
};
[[nodiscard]] CurvePrior assume_curves(const RollFacts& facts, bool silver);

/// Curves whose neutral is straight where these curves' neutral was tilted: red - green and blue - green exposures grew by `tilt`
/// per log10 H. The mean of the three slopes' logarithms is kept.
[[nodiscard]] Rgb<LayerCurve> straightened(const Rgb<LayerCurve>& curves, const Mix& share, const std::array<double, 2>& tilt);
/// The tilt a neutral has under `assumed` when `actual` are the film's curves.
[[nodiscard]] std::array<double, 2> tilt_of(const Rgb<LayerCurve>& actual, const Rgb<LayerCurve>& assumed, const Mix& share);
/// Covariance of the tilt (red, blue) from the channels' slopes being independently uncertain by `relative_std`.
[[nodiscard]] std::array<std::array<double, 2>, 2> tilt_covariance(const std::array<double, 3>& relative_std, const Mix& share);

}  // namespace basefog::film
