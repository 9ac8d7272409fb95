// SPDX-License-Identifier: GPL-3.0-or-later
// The numbers of the film stage. Chosen = a judgement, with its reason; Measured = on photographs, how is said.
#pragma once

#include "basefog/core/units.h"

#include <array>

namespace basefog::film {

// --- Layers and exposure scale ---------------------------------------------------------------------------------------
/// Weights of the layers where one exposure stands for the three. Chosen: those of luminance of the sRGB primaries, rounded
/// [IEC61966-2-1]; they also decide which combination of balances is zero.
inline constexpr std::array<double, 3> kLayerWeights{0.21, 0.72, 0.07};
/// log10 H of the foot of the straight line, when 0 is a grey exposed by the stock's aim. Chosen: with ISO 5800 the speed point
/// lies 0.25 above it and a metered grey (10 / S lux seconds, from memory) 0.85 above that, 1.1 together; published
/// mid-grey aims over published slopes give 1.2 to 1.4 (docs/stages/film.md). Only a convention: it moves every
/// frame of every roll alike. Safe range 0.9 to 1.4.
inline constexpr double kToe = -1.0;
/// Chosen: the published toe of a masked 400 negative is met by 0.11 to 0.12 (docs/stages/film.md).
inline constexpr double kToeWidth = 0.11;
/// Length and end of the straight line. Chosen: published camera negatives stay straight for 2.9 log10 H or more.
inline constexpr double kLatitude = 2.9;
inline constexpr double kShoulderWidth = 0.28;

// --- Slopes: density of the layers' dyes per log10 H ------------------------------------------------------------------
/// Chosen: masked 400 stills negative, Status M, published curve: 0.58 / 0.58 / 0.66.
inline constexpr std::array<double, 3> kStillsSlopes{0.58, 0.58, 0.66};
/// Chosen: motion-picture stock in its own process, from published mid-grey aims and the 0.5-0.55 of printing density.
inline constexpr std::array<double, 3> kMotionOwnSlopes{0.50, 0.52, 0.53};
/// Chosen: the same stock in stills chemistry: steeper by a fifth, blue most (common practice, no source).
inline constexpr std::array<double, 3> kMotionCrossSlopes{0.60, 0.63, 0.67};
/// Chosen: nothing known: between the three, nearer those a home is likely to see.
inline constexpr std::array<double, 3> kUnknownSlopes{0.58, 0.60, 0.65};
inline constexpr double kSilverSlope = 0.62;
/// What a scanner's broad bands see of a dye's peak density in a neutral, relative. Chosen: see unmix.h for the bands and dyes.
inline constexpr std::array<double, 3> kBandFactor{0.78, 0.97, 0.93};
/// Relative one-sigma of the common slope. Chosen: spread between stocks and developers, with the scanner's bands.
inline constexpr double kSlopeStd = 0.08;
inline constexpr double kSlopeStdUnknown = 0.13;
/// Relative one-sigma of each channel's slope beside the common one, before the pictures are asked. Chosen: where a scanner's bands
/// lie moves red's by 0.12, the others' by 0.08; the stock's layers by 0.04.
inline constexpr std::array<double, 3> kChannelSlopeStd{0.13, 0.09, 0.09};
/// What an earlier roll's slopes may be off for this one: together, and each beside the others. Chosen: a bath's age and a stock's.
inline constexpr double kBathSlopeStd = 0.03, kBathRatioStd = 0.02;

// --- Mixing -----------------------------------------------------------------------------------------------------------
using Mix = std::array<std::array<double, 3>, 3>;
/// Of a neutral's density in each scanner channel (row), the share of each layer (column); rows sum to 1. Chosen: near the mean of block dyes (peaks near
/// 690, 550, 447 nm, half-widths 65, 45, 50 nm, unwanted absorptions mostly undone by the mask) seen through bands near 622 +/- 14, 540 +/- 10 and
/// 460 +/- 10 nm, from a diode's 28 to a camera's 105 nm wide (docs/stages/film.md).
inline constexpr Mix kNeutralShare{{{0.72, 0.27, 0.01}, {0.11, 0.73, 0.16}, {0.03, 0.155, 0.815}}};
/// One sigma of the natural logarithm of the off-diagonal shares: green's in red, red's and blue's in green, green's in blue; and of red's share in
/// blue, which may be none. Chosen: the same bands and dyes, varied.
inline constexpr std::array<double, 4> kShareStd{0.50, 0.60, 0.50, 0.50};
inline constexpr double kBlueOfRedStd = 0.045;
/// The same where densities are of a camera's own channels, as its RAW files hold them. Chosen: the same dyes through bands near 600 +/- 10, 535 +/- 8 and
/// 460 +/- 8 nm, 60 to 105 nm wide; that a camera's red lies nearer to green than a scanner's and its bands are broad is common practice, no source.
inline constexpr Mix kCameraShare{{{0.58, 0.41, 0.01}, {0.12, 0.645, 0.235}, {0.035, 0.165, 0.80}}};
inline constexpr std::array<double, 4> kCameraShareStd{0.27, 0.48, 0.36, 0.47};
/// Measured on photographs, as the layers see them (kLayerOverlap), on the straight line, in cells of a sixtieth of the picture's length
/// (docs/stages/film.md): natural logarithm of the mean step between neighbours in red - green and in blue - green log exposure, over that in
/// luminance; and the inverse hyperbolic tangent of the first two's correlation. Spread between photographs, and its correlations.
inline constexpr std::array<double, 3> kEdgeColour{-1.25, -0.99, -0.33};
inline constexpr std::array<double, 3> kEdgeColourStd{0.55, 0.54, 0.42};
inline constexpr std::array<std::array<double, 3>, 3> kEdgeColourCorrelation{{{1, 0.73, 0}, {0.73, 1, 0.15}, {0, 0.15, 1}}};
/// A roll's pictures have their subjects in common: variance between sets of photographs, over that between photographs. Measured: 11 sets of one
/// kind of subject each, .16, .24 and .31 of the three.
inline constexpr double kSetVariance = 0.25;

/// What each layer (row) takes in of the scene's red, green and blue (sRGB primaries); rows sum to 1. Chosen: overlap of block
/// sensitivities over smooth reflectances is about twice this off the diagonal; camera negatives' interlayer
/// inhibition, made to counter it, is taken to undo half (docs/stages/film.md).
inline constexpr Mix kLayerOverlap{{{0.88, 0.10, 0.02}, {0.055, 0.905, 0.04}, {0.01, 0.075, 0.915}}};

// --- Balance: all in log10 H ------------------------------------------------------------------------------------------
/// One sigma of red's and blue's speed against green's when the stock's balance and the light are told. Chosen: 0.02 between
/// batches of a fresh stock, 0.03 for cross-processing, 0.03 to 0.04 for where the layers' bands lie.
inline constexpr std::array<double, 2> kToldStd{0.045, 0.050};
/// What each decade past the date adds, in quadrature: layers age at unequal rates, by some tenths of a stop.
inline constexpr std::array<double, 2> kAgedStdPerDecade{0.05, 0.08};
/// Where the light or the stock's balance is not told: along the daylight-tungsten axis, in units of tungsten stock in daylight:
/// half of it, give or take a half; and this much across.
inline constexpr double kUntoldCentre = 0.4, kUntoldStd = 0.5;
inline constexpr double kUntoldAcrossStd = 0.05;

/// Votes of pictures. Measured on 160 free photographs of mixed subjects (docs/stages/film.md): median and 1.48 x median absolute
/// deviation of red - green and blue - green log exposure, over photographs taken as balanced.
/// Highlights and edges near the neutral that is expected: mean of a 6-norm of light and a 5-norm of its gradient. Measured on 157 photographs as the layers
/// see them (kLayerOverlap), spots that are clipped in the file left out. They answer to .85 of what a neutral lies elsewhere, which asking again makes
/// good; the spread is what it comes to once that is undone.
inline constexpr std::array<double, 2> kNeutralBias{0.002, 0.008};
inline constexpr std::array<double, 2> kNeutralStd{0.045, 0.070};
/// The spread goes with the share of a picture's strongest light and edges that is near neutral: quarters of the photographs by that share have .13, .047,
/// .033 and .016 in red, .19, .09, .05 and .027 in blue. Taken: times (share / kUsuallyNear)^-kNearPower, within limits, less than measured (chosen): where the
/// neutral is expected wrongly, what happens to lie there looks sure.
inline constexpr double kUsuallyNear = 0.2, kNearPower = 0.35, kSurest = 0.6, kLeastSure = 3.0;
/// Whatever the light: mean of the same norms over all spots, and the mode near neutral.
inline constexpr std::array<double, 2> kCastBias{0.004, 0.000};
inline constexpr std::array<double, 2> kCastStd{0.050, 0.080};
/// Change of red - green and blue - green with exposure, over neighbouring spots near neutral, as the layers see them (kLayerOverlap); and over all, while
/// it is not known where neutral is. Chosen: a little wider than measured (.045, .057; .063, .078), as a film's grain adds to it.
inline constexpr std::array<double, 2> kTiltBias{-0.015, 0.038};
inline constexpr std::array<double, 2> kTiltStd{0.050, 0.060};
inline constexpr std::array<double, 2> kFirstTiltBias{-0.02, 0.06};
inline constexpr std::array<double, 2> kFirstTiltStd{0.08, 0.09};
/// A roll's pictures have subjects in common: variance between rolls over that between photographs, of casts and of tilts. Chosen: a
/// roll's mean subject may be off by 0.3 and 0.4 of one photograph's sigma, however many there are. Measured of tilts: 7 sets of one kind of subject
/// each, .03 and .06; but an evening of lamp-lit rooms shares its change of colour from light to dark more than animals or monuments do.
inline constexpr double kCastTogether = 0.09, kTiltTogether = 0.16;
/// Degrees of freedom of the votes' heavy tails: pictures of one colour are common. Chosen, 1 to 4 hardly differ.
inline constexpr double kVoteTails = 2.0;

// --- Level ------------------------------------------------------------------------------------------------------------
/// Level of a frame: these shares of the 75 % and 97 % points of log exposure. Measured on the same photographs: the level lies
/// kTypicalLevel above an 18 % grey, give or take kSceneStd stops.
inline constexpr double kLowerPoint = 0.75, kUpperPoint = 0.97, kUpperShare = 0.75;
inline constexpr double kTypicalLevel = 0.47;
inline constexpr double kSceneStops = 0.5;
/// Where the upper point comes nearer to the shoulder than this (log10 H), it no longer shifts with exposure; the lower one alone lies this far above
/// grey. Chosen: two shoulder widths; and the level's own figure less what the upper point usually adds.
inline constexpr double kShoulderMargin = 0.3, kTypicalLower = 0.20;
/// Of what all of a roll's subjects have in common, one sigma of their mean red - green and blue - green, log10 H, in what is stated of the balance.
/// Chosen: two fifths of one photograph's near cast; the coverage test moves it.
inline constexpr std::array<double, 2> kSubjectsStd{0.018, 0.028};
/// One sigma of a photographer's exposures within a roll, stops. Chosen.
inline constexpr double kPhotographerStops = 1.0;

}  // namespace basefog::film
