// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers the density stage stands on, and why each is what it is.
#pragma once

namespace basefog::density {

/// Side of the cells bare light is gathered in. Chosen: as large as a perforation (1.98 x 2.79 mm) so that a sliver
/// of one gives a cell of its own; safe 1 to 4 mm.
inline constexpr double kLightCellMm = 2.0;
/// Pixels a light cell needs. Chosen: the level's random error is then below a fifth of a pixel's noise.
inline constexpr int kLightCellPixels = 24;
/// Quantile of a cell's light taken as its upper level before the cut. Chosen: a sliver half covered by the holder's edge
/// still has its upper tenth clear.
inline constexpr double kUpperLevel = 0.90;
/// Pixels further below the upper level than this many noise standard deviations are edge or dust. Chosen: Gaussian noise
/// alone loses under half a percent of its pixels.
inline constexpr double kUpperCut = 4.0;

/// Prior standard deviations of the field's terms in ln light. Chosen: flatbed lamps fall off by a few percent, a copy
/// stand with a lens by up to a quarter at the corners; a term the samples do not fix stays within this of zero, and
/// the stated uncertainty says so.
inline constexpr double kLinearPriorStd = 0.10;
inline constexpr double kQuadraticPriorStd = 0.06;
/// What a smooth quadratic misses locally, in ln light, shared by neighbouring cells. Chosen: 0.1 % (0.0004 D).
inline constexpr double kFieldFloor = 0.001;
/// Cells whose level lies more than this many standard deviations below the field are partly covered.
inline constexpr double kCoveredCut = 3.5;
/// A linear sample at or above this is at the file's limit.
inline constexpr float kFullScale = 0.998F;

/// Film's own clear parts steer the field's shape (never its level) where bare light leaves it looser than this, in ln
/// light. Chosen: 0.003 D, a quarter of the accuracy aimed at.
inline constexpr double kShapeLoose = 0.007;
/// How even base density is along a strip, in ln light: 0.005 D. Chosen.
inline constexpr double kBaseEvenness = 0.0115;

/// Most light an opaque part of a holder passes: D 3.0. Common practice, no source: holders lie about D 3.4; anything
/// brighter than D 3.0 is stray light or a sensor offset.
inline constexpr double kHolderTransmittance = 1e-3;
/// No stray light above this share of the bare light is believed. Chosen: more would be a broken set-up.
inline constexpr double kMostFlare = 0.02;
/// Standard uncertainty of stray light nobody can see, as a share of bare light. Chosen: glare of scanners and copy stands
/// is a few tenths of a percent of the light around.
inline constexpr double kUnseenFlareStd = 0.002;
/// Distance a holder cell keeps from anything bright, so that lens blur does not count as flare.
inline constexpr double kHolderClearMm = 4.0;

/// Side of the cells a strip's base is gathered in. Chosen: below the gap between frames (about 2 mm).
inline constexpr double kBaseCellMm = 1.0;
inline constexpr int kBaseCellPixels = 16;
/// Window of the lowest cluster of cells, floor in density. Chosen: uneven development of a few thousandths stays inside.
inline constexpr double kClusterWindow = 0.006;
/// A cluster counts as one from this share of the tallest one's height. Chosen: finds the clean fifth of a strip four
/// fifths of which are smeared, yet not the noise below a clean strip's base.
inline constexpr double kClusterShare = 0.35;

/// Infrared density a clean masked film can have at most: two air-gelatin surfaces at n = 1.5 pass (1 - 0.04)^2, D 0.035
/// (Fresnel), and mask and fog leak up to about 0.04. Chosen.
inline constexpr double kCleanInfraredMost = 0.075;
/// How far clean infrared bases of different stocks may lie apart. Chosen.
inline constexpr double kInfraredStockSpread = 0.012;
/// A veil below this is not told from base. Chosen: twice a good field's error.
inline constexpr double kLeastVeil = 0.004;
inline constexpr double kLeastVeilColourOnly = 0.006;

/// Spread of the base from red to blue under which there is no orange mask. Masked negative has about 0.65 [status M,
/// ISO 400 data sheet, 2006]; clear supports with a grey base under 0.05.
inline constexpr double kNoMask = 0.15;
/// Silver is neutral: a picture's blue and red densities differ by less than this share. Chosen: the narrowest dye sets
/// differ by some 15 % even in greys.
inline constexpr double kNeutralShare = 0.10;
/// Resolution of an overview nobody states the scale of. Chosen: the overview's usual target.
inline constexpr double kAssumedOverviewDpi = 350;
/// Smallest standard uncertainty claimed for a base, in density: what a smooth field and one number for a strip leave out.
inline constexpr double kBaseFloor = 0.0005;

}  // namespace basefog::density
