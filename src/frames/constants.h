// SPDX-License-Identifier: GPL-3.0-or-later
// The numbers the frame finder goes by, each with its reason. See docs/stages/frames.md.
#pragma once

namespace basefog::frames {

// ---- The film ----
/// Defined: perforation pitch, mm. The mean of long (4.750) and short pitch (4.740) [SMPTE102, from memory for 4.740]; half their difference is 0.1 %.
inline constexpr double kPerforationPitchMm = 4.745;
/// Defined: film width, mm [SMPTE102].
inline constexpr double kFilmWidthMm = 34.975;
/// Defined: long and short pitch, mm [SMPTE102, from memory for the short one], and the height of their holes along the film (secondary source).
inline constexpr double kLongPitchMm = 4.750, kShortPitchMm = 4.740, kLongHoleMm = 1.981, kShortHoleMm = 1.854;
/// Defined: edge of the film to the near side of its holes, and the holes' size across (from memory).
inline constexpr double kHoleMarginMm = 2.01, kHoleAcrossMm = 2.794;
/// Chosen: a stated resolution further from the film than this is called a contradiction. Scanners' own scale errors stay under 1 %, film shrinks
/// by up to 0.6 %. Where pictures alone tell, cameras' gates differ by 1 %.
inline constexpr double kScaleContradiction = 0.013, kScaleContradictionOfFrames = 0.018;

// ---- Light ----
/// Chosen: share of the sheet taken for its brightest level. A few square millimetres of bare light at the strips' ends must count; a hot pixel must not.
inline constexpr double kTopShare = 0.001;
/// Chosen: a brightest level with less blue than this share of its red is masked film, not bare light. Masks run at 0.2 to 0.4.
inline constexpr double kMaskBlueOverRed = 0.55;
/// Chosen: density under which a pixel is bare light. Clear supports without a mask begin near 0.06.
inline constexpr double kBareDensity = 0.04;
/// Chosen: brackets of the share of bare light under which a pixel is opaque. Holders are near 0.0004 plus flare; dense highlights seldom under 0.005.
inline constexpr double kDarkShareLow = 0.003, kDarkShareHigh = 0.02;
/// Chosen: darkness is even, and so a holder's, if its darkest fifth lies above this share of its brightest; then it ends so far above it.
inline constexpr double kEvenHolder = 0.75, kEvenOverHolder = 1.5, kDarkShareMost = 0.15;
/// Chosen: the opaque level lies this many times above the darkest large area.
inline constexpr double kDarkOverHolder = 3.0;

// ---- Strips, on a coarse picture ----
/// Chosen: coarse pixels per millimetre; a perforation is then 5 x 7 of them.
inline constexpr double kCoarsePxPerMm = 2.5;
/// Chosen: longest side of the coarse picture while the scale is unknown.
inline constexpr int kCoarseLongestPx = 1000;
/// Chosen: holes in the film up to this area are perforations (5.5 mm2) or dust-lit spots.
inline constexpr double kHoleMm2 = 30;
/// Chosen: dark patches inside the film up to this area and length are dense frames (the largest 56 x 69.5 mm), larger ones the holder.
inline constexpr double kDarkPatchMm2 = 4500, kDarkPatchMm = 80;
/// Chosen: film narrower than this across (or shorter than that along) is not looked at: it cannot show a frame.
inline constexpr double kLeastAcrossMm = 19, kLeastAlongMm = 12;
/// Chosen: film that runs off the scan's edge is looked at from this width on: a third of a frame and its rebate.
inline constexpr double kLeastCutAcrossMm = 9;
/// Chosen: a holder for roll film hides at most this much of the pictures' height.
inline constexpr double kRollHiddenMm = 2;
/// Chosen: a strip's visible width may exceed the film's by this before it is something else (or several strips).
inline constexpr double kWidthSlackMm = 1.6;

// ---- Cells and evidence ----
/// Chosen: side of a cell, mm; a fifth of the smallest gap.
inline constexpr double kCellMm = 0.2;
/// Chosen: cells nearer than this to a holder's edge or a perforation are left out: mm, and overview pixels (scanner blur).
inline constexpr double kEdgeKeepMm = 0.4, kEdgeKeepPx = 3;
/// Chosen: half height of the band used for the first look at a strip, as a share of the pictures' height: inside them whatever the tilt.
inline constexpr double kFirstBandShare = 0.375;
/// Chosen: share of clear film that holds dust or residue before it is measured, and the least and most it is taken for.
inline constexpr double kDirtyShare = 0.03, kLeastDirtyShare = 0.005, kMostDirtyShare = 0.15;
/// Chosen: shares of a picture's cells that may sit at base level: full, dark, very dark and night scenes.
inline constexpr double kBaseShares[] = {0.1, 0.5, 0.85, 0.97};
/// Chosen: scale, density, of the exponential part of picture densities above base.
inline constexpr double kPictureDensity = 0.25;
/// Chosen: neighbouring cells see the same detail: a column counts for this many independent looks per millimetre of film.
inline constexpr double kLooksPerMm = 6;

/// Chosen: evidence (natural log) of an edge that steps straight across all rows; a black border inside a picture is ragged.
inline constexpr double kStepEvidence = 40;

/// Chosen: a gap is the clearest film within this, mm.
inline constexpr double kNearMm = 3;

// ---- The chain of frames ----
/// Chosen: standard deviation of the advance, mm (gaps jitter by some tenths), and the cost at which odd advances level off.
inline constexpr double kAdvanceStdMm = 0.4, kAdvanceCostMost = 14;
/// Chosen: advances searched, mm, either side of the nominal pitch.
inline constexpr double kAdvanceLessMm = 1.8, kAdvanceMoreMm = 3.0;
/// Chosen: the same for panoramic frames, which advance 15 or 16 perforations, and for roll film, whose advance nothing but rollers measures; its gates differ
/// more as well.
inline constexpr double kPanoramicAdvanceStdMm = 2.5, kPanoramicAdvanceLessMm = 7, kPanoramicAdvanceMoreMm = 7;
inline constexpr double kRollAdvanceStdMm = 1.8, kRollAdvanceLessMm = 6, kRollAdvanceMoreMm = 7, kRollGateStdMm = 0.4;
/// Chosen: steps of a camera that winds evenly lie so near each other, mm, either way.
inline constexpr double kEvenStepMm = 0.25;
/// Chosen: evidence (natural log) a picture must bring.
inline constexpr double kLeastEvidence = 12;
/// Chosen: a frame reaches this far beyond the film's end before it is called cut off; what is left of it must be this long; and it must
/// bring this much more evidence, as one of its edges cannot be seen.
inline constexpr double kCutMm = 0.5, kLeastCutMm = 2, kCutCost = 45;
/// Chosen: and so much more the less there is left of it, under this many mm: a line in the picture beside it may be all that speaks for it.
inline constexpr double kShortCost = 40, kShortMm = 8;
/// Chosen: frames overlap by at most this, mm, and this share of one. A gap under this cannot be seen as one; frames that meet like that, or
/// overlap, must bring so much evidence by their joints: lines in a picture make a third of one now and then.
inline constexpr double kMostOverlapMm = 8.2, kMostOverlapShare = 0.32;
inline constexpr double kLeastGapMm = 0.6, kMeetCost = 25;
/// Chosen: evidence that every frame of a format costs, and that the usual format is ahead of the others by. A true edge brings up to 40.
inline constexpr double kFrameCost = 20, kUsualFormat = 25;
/// Chosen: by which the format that most of a sheet's film shows is ahead on its other strips: a strip comes from the same camera far more often than not.
inline constexpr double kSheetFormat = 50;
/// Chosen: a format's lead, natural log, at which it is taken for right three times in four.
inline constexpr double kSureFormat = 15;
/// Chosen: largest deviation from the stated scale that is corrected on the spot; beyond it, everything is looked at anew.
inline constexpr double kMostCorrection = 0.15;
/// Chosen: where nothing but pictures tells the scale and a fit is no better than this, scales some per cent off are tried; one must be so much better.
inline constexpr double kDoubtfulQuality = 0.75, kBetterQuality = 0.1;
inline constexpr double kScalesTried[] = {0.94, 0.96, 0.98, 1.02, 1.04, 1.06};
/// Chosen: of two ways to look at a sheet, the second must meet the edges of so much more picture area.
inline constexpr double kExplainsMore = 1.15;
/// Chosen: smallest one worth a second look: 0.1 mm on a full frame.
inline constexpr double kFineCorrection = 0.003;
/// Chosen: a left-over of film shorter than this share of a frame is not a frame.
inline constexpr double kLeastBlankShare = 0.7;

// ---- Edges ----
/// Chosen: reach of a profile across an edge, mm, each way.
inline constexpr double kReachMm = 0.9;
/// Chosen: length of film along the edge averaged into one profile, mm.
inline constexpr double kBandMm = 0.3;
/// Chosen: profiles with a step under this many standard deviations are not used.
inline constexpr double kLeastStep = 4;
/// Chosen: half width of the window around the commonest place of an edge, mm.
inline constexpr double kModeWindowMm = 0.12;
/// Chosen: camera gates differ from the nominal frame by about this much, mm.
inline constexpr double kGateStdMm = 0.2;
/// Chosen: deviations from the nominal by which a gate is odd; what is more adds to the doubt.
inline constexpr double kOddGate = 2;
/// Chosen: how far, mm, the evidence may place the pictures' upper edge wrongly; how far 100 mm of strip may be turned against the pose, and
/// bent against it, where its perforations or edges are in view.
inline constexpr double kTopStdMm = 0.5, kSlopeStdMm = 0.5, kLeastCurveStdMm = 0.04;
/// Chosen: an edge is never trusted to better than this, mm (gate roughness, blur).
inline constexpr double kEdgeFloorMm = 0.015;
/// Chosen: doubt, mm, about a line of which a quarter shows (it falls with the root of the share), and the share of an
/// end edge at which it is more likely than not the picture's own. Both set on drawn sheets, so that confidences hold.
inline constexpr double kDoubtMm = 0.03, kSureShare = 0.12;
/// Chosen: a confidence states that every edge lies within this, mm.
inline constexpr double kConfidenceMm = 0.25;
/// Chosen: under this confidence a frame gets a finding.
inline constexpr double kWeakConfidence = 0.8;

// ---- Kinds ----
/// Chosen: a slot without edges holds a picture if its blacks stand this far above the clear film beside it (a picture's
/// black has some camera flare; base is known to 0.003), or if detail fills three times the share that dirt does outside.
inline constexpr double kBlackAboveBase = 0.007, kDetailOverDirt = 3, kLeastDetail = 0.004;
/// Chosen: a frame of which less than this share of every edge shows must hold detail to be a picture.
inline constexpr double kLeastEdgeShare = 0.12;
/// Chosen: a frame denser than this above base was fogged if it is fairly even and has no detail: places 3 mm apart follow
/// a smooth course. A grey card over-exposed two stops reaches 1.1; noise at density 2.5 leaves 0.009 of detail.
inline constexpr double kFoggedDensity = 1.2, kFoggedSpread = 0.3, kFoggedDetail = 0.0135, kEvenSpread = 0.01;
/// Chosen: detail under which nothing is a picture; and how many times more of it than noise alone would leave at 3 mm, given what there is at 1 mm.
/// Fog gives 0.9 to 1.3, over-exposed pictures of next to nothing 1.4 to 8.
inline constexpr double kLeastFoggedDetail = 0.005, kDetailOverNoise = 1.45;

// ---- Regions ----
/// Chosen: margin at each transition, mm, and the least in pixels (scanner blur).
inline constexpr double kRegionMarginMm = 0.2, kRegionMarginPx = 2;

}  // namespace basefog::frames
