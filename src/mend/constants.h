// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers the mending stage stands on, and why each is what it is. Densities are log10.
#pragma once

namespace basefog::mending {

/// A defect must rise this high somewhere, in density and in standard deviations of a (slightly smoothed) pixel; its body reaches
/// down to the lower pair. Chosen: 0.05 is a sixth of a stop; below 0.015 no eye sees a spot.
inline constexpr float kSeed = 0.05F, kSeedSigmas = 7.0F;
inline constexpr float kFoot = 0.012F, kFootSigmas = 2.5F;
/// How far a body reaches beyond its seed. Chosen: an optical blur and a half.
inline constexpr double kSkirtPx = 3, kSkirtMm = 0.08;
/// Smoothing before defects are told from noise, pixels. Chosen: under the scanner's own blur.
inline constexpr double kSmoothPx = 0.7;
/// Smooth residue: its mean over such a spot is at least so dense. Chosen: wider than grain, narrower than a smear's edge.
inline constexpr double kSmearSpotMm = 0.3;
inline constexpr float kSmear = 0.018F, kSmearSigmas = 5.0F;
/// A smear is denser than this somewhere. Chosen: the dyes' leak is off by up to 0.02 where a picture is densest (worst over invented sheets).
inline constexpr float kSmearSeed = 0.04F;
/// On a strip without residue, slow change of the infrared density is the light's or the leak's error: its median over blocks
/// of this size is taken off. Chosen: several times the widest speck.
inline constexpr double kBlockMm = 2.5;

/// Densest defect whose light is still used: a quarter of it comes through. Chosen: beyond, noise and stray light take over.
inline constexpr float kMostDivided = 0.60F;
/// In a smear wider than this a fill is seen as a patch: as long as a tenth of the light comes through it is divided, grainier but true. Chosen: a
/// spot's mean widens the largest usual speck to four fifths of it.
inline constexpr double kWideSmearMm = 0.9;
inline constexpr float kMostDividedWide = 1.0F;
/// How well a divided pixel must be known, density. Chosen: a twelfth of a stop, about the grain of a pixel.
inline constexpr float kDivideError = 0.025F;
/// In smoother film it must be known as well as that film's own roughness (over such a window), down to this. Chosen: a sixtieth of
/// a stop.
inline constexpr float kLeastDivideError = 0.005F;
inline constexpr double kGrainWindowMm = 1.0;
/// What the division does not know: the defect's own density, as a share (it may not absorb quite alike in all channels), and
/// where its slope lies, pixels (registration and focus).
inline constexpr float kGainError = 0.02F;
inline constexpr float kLeastSlipPx = 0.08F;
/// Widest place that is filled. Chosen: twice the usual speck; wider holes cannot be guessed.
inline constexpr double kWidestFillMm = 1.0;

/// A long fill is done in pieces of this size, each from a place of its own.
inline constexpr double kPieceMm = 0.35;
inline constexpr int kLeastPiecePx = 8;
/// Width of the rim that a source must match.
inline constexpr double kRimMm = 0.12;
inline constexpr int kLeastRimPx = 2, kMostRimPx = 6;
/// How far a source is looked for, at least and at most, pixels; in between one and a half times the piece.
inline constexpr int kLeastReachPx = 14, kMostReachPx = 72;
/// Rim pixels compared, at most. Chosen: enough to tell an edge's course.
inline constexpr int kRimSamples = 96;
/// A source's level may differ, as the difference is taken off: it counts by this share beside the difference in course.
inline constexpr double kLevelWeight = 0.25;
/// What a division adds in noise however little it takes off (registration, infrared's own noise), beside what a gain of 1.4 adds: as much. Chosen.
inline constexpr double kSlipNoise = 1.0;
/// A pixel's fine structure counts for at most so many times the mean of those about it. Chosen: three standard deviations of grain.
inline constexpr double kHeldAt = 2.4;
/// Distance, pixels, within which the rim's differences are averaged rather than followed: grain is not to be passed on.
inline constexpr double kRimSoftPx = 2.0;

}  // namespace basefog::mending
