// SPDX-License-Identifier: GPL-3.0-or-later
// Choices behind the words about trends. All Chosen unless marked.
#pragma once

namespace basefog::history_room {

/// Over its bath's life, a change below this is told as slight: hardly to be seen in a print. Density; share of a slope or ratio;
/// log10 of a factor of residue (times 1.6).
inline constexpr double kSlightDensity = 0.03, kSlightShare = 0.03, kSlightResidue = 0.2;
/// Added to a residue area in percent before its logarithm is taken, so that clean film has one: the smallest area told from none.
inline constexpr double kResidueFloor = 0.1;
/// A roll counts as streaked when at least this share of its strips is.
inline constexpr double kStreaked = 0.5;
/// Years of a stock's age taken together: about half a stop by the usual rule of thumb (a stop in ten years; common practice, no source).
inline constexpr int kAgeBand = 5;
/// Sessions and years a stock's rolls must span before its speed is asked to change with age.
inline constexpr int kAgeSessions = 6;
inline constexpr double kAgeSpan = 1.0;
/// Freedom below which the scatter of sessions is not known well enough for a verdict.
inline constexpr double kLeastFreedom = 3;
/// Stops a roll whose shadows were lost counts as short of.
inline constexpr double kThinStops = 1;
/// Rolls from which an earlier curve can be drawn.
inline constexpr int kCurveRolls = 3;

}  // namespace basefog::history_room
