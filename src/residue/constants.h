// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers the residue stage stands on, and why each is what it is.
#pragma once

namespace basefog::residue {

/// Film this near the holder or bare light is left out: the lens blurs the edge into it. Chosen: three overview pixels.
inline constexpr double kEdgeMarginMm = 0.22;
/// Depth of the rim in which opaque pixels that no label vouches for are taken for holder, and how opaque they must be in
/// every channel. Chosen: a strip's box may reach under the holder by a millimetre; residue seldom reaches this density.
inline constexpr double kHolderRimMm = 1.2;
inline constexpr float kOpaqueEdge = 1.0F;
/// Residue below this, or below so many standard deviations of a pixel, is not told. Chosen: a hundredth of a density is
/// a thirtieth of a stop.
inline constexpr double kLeastTold = 0.010;
inline constexpr double kToldSigmas = 4.0;
/// Residue from here on is marked in the defect map: a quarter of a stop of light lost (0.3 log10 units to the stop).
/// Chosen: below it a print hardly shows it.
inline constexpr double kMapDensity = 0.075;

/// The maker's print stands outside the perforations, within this distance of the film's edges [SMPTE139] (holes begin 2.01 mm in);
/// film of which at most so much is hidden shows it.
inline constexpr double kPrintBandMm = 2.1, kHiddenFilmMm = 3.0;

/// Prior standard deviation of a dye's infrared density per unit of colour density. Common practice, no source: image dyes
/// are nearly clear in infrared, a few percent leak.
inline constexpr double kLeakPriorStd = 0.02;
/// How many fully independent pixels a strip's pixels are worth against that prior. Chosen: pictures repeat themselves.
inline constexpr double kLeakPriorPixels = 300;
/// Least infrared noise assumed, in density, so that a noiseless scan does not reject its own rounding.
inline constexpr double kLeastNoise = 0.0008;

/// A veil below this is noise; against another strip's base by colour alone twice as much is asked.
inline constexpr double kLeastVeil = 0.004;
/// Infrared density of film without image, its dyes' leak taken off: two surfaces of gelatin against air and the support. Fresnel at n = 1.5:
/// 0.035; the support: common practice, no source. A sheet on which no strip is clearer is veiled all over.
inline constexpr double kSupportInfraredMost = 0.05;
/// How far it may lie apart between stocks, as a neutral density. Chosen; safe range 0.006 to 0.010: below, stocks whose supports differ are called
/// veiled; above, veils that ask for another wash are missed.
inline constexpr double kSupportSpread = 0.008;
/// Clear film speaks for the veil where it is this share of the film. Chosen: a strip with visible edges has a quarter.
inline constexpr double kEnoughClear = 0.02;
/// Grades (the report's definition).
inline constexpr double kTraceAreaPercent = 2.0, kPartialAreaPercent = 12.0;
inline constexpr double kPartialVeil = 0.010, kHeavyVeil = 0.025;
/// Area below this is nothing told from noise: a strip of six frames then carries under 2 square millimetres.
inline constexpr double kCleanAreaPercent = 0.02;
inline constexpr double kCleanAreaPercentColour = 0.20;

/// Widest compact object (dust, fibre, speck). Chosen: dust and fibres are thinner than half a millimetre; smears wider.
inline constexpr double kObjectWidthMm = 0.75;
/// Least rise of an object above what is around it, in density, and in standard deviations of a pixel.
inline constexpr double kObjectContrast = 0.10;
inline constexpr double kObjectSigmas = 8.0;
/// Inside residue its own mottle rises too: an object must stand out by this share of the residue around it.
inline constexpr double kObjectOverMottle = 0.6;
/// An object's pixels reach down to this share of its peak.
inline constexpr double kObjectFoot = 0.30;
/// Objects denser than this count as opaque, the way dust and fibres usually are.
inline constexpr double kOpaqueContrast = 0.33;
/// Long and thin: a fibre, or a scratch or streak when it runs along the film.
inline constexpr double kFibreElongation = 5.0;
inline constexpr double kFibreWidthMm = 0.22;
/// Specks are compared in classes, large apart from small. Chosen: twice a 0.2 mm spot.
inline constexpr double kLargeSpeckMm2 = 0.08;
/// On a strip that carries residue a class of specks is called dust where at least this share of it is expected to be;
/// else carbon. Chosen: a speck wrongly left to carbon is mended all the same.
inline constexpr double kDustOdds = 0.9;
/// On a strip without smears soft and weak specks are carbon where dust alone would be as many with less than this chance. Chosen: one strip in
/// some hundreds is then misled.
inline constexpr double kChanceOfCarbon = 0.003;
/// The flank of a hard outline on this sheet: that of so many of its opaque specks; and how near to it counts as sharp. Chosen:
/// the quantile leaves chance peaks out; safe range of the share 0.75 to 0.9.
inline constexpr double kHardQuantile = 0.8, kSharpShare = 0.82;
inline constexpr double kLineLengthMm = 2.5;
inline constexpr double kLineAngleDeg = 4.0;
inline constexpr double kScratchWidthMm = 0.14;
/// A line may be weaker than a speck if it is long, as many pixels speak for it; of its width so much is the lens's and the pixels' blur.
inline constexpr double kLineContrast = 0.04, kLineSigmas = 4.0;
inline constexpr double kWeakLineLengthMm = 4.0, kWeakLineElongation = 20.0, kLineBlurPx = 2.0;

/// Carbon absorbs alike in all channels [ScanMetric2001]; a patch is neutral when its
/// channels differ by less than this share of it. Chosen: image dyes differ by 15 % and more in greys.
inline constexpr double kNeutralShare = 0.06;
inline constexpr double kNeutralSigmas = 3.0;

}  // namespace basefog::residue
