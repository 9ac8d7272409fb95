// SPDX-License-Identifier: GPL-3.0-or-later
// Draws sheets of film from the published dimensions alone, with every corner known. Shares no formula with the
// library: shapes are products of blurred steps in linear light, densities a plain softened straight line.
#pragma once

#include "basefog/frames/types.h"
#include "basefog/scan/types.h"

#include <array>
#include <cstdint>
#include <vector>

namespace basefog::drawn {

enum class Scene {
    textured,    ///< detail everywhere
    sky,         ///< smooth gradient over a textured ground
    night,       ///< black but for some lights; black reaches most of the edges
    shapes,      ///< hard-edged bars, some of them parallel to the picture's edges and close by
    chart,       ///< patches on an even border
    high_key,    ///< dense nearly all over
    black_side,  ///< textured, but one side of the picture is black along its edge
};

struct FramePlan {
    FrameKind kind = FrameKind::picture;
    Scene scene = Scene::textured;
    double stops = 0;       ///< exposure against normal
    double gap_before = 2;  ///< mm of clear film before it; less than 0 overlaps the frame before, or cuts the first one off
    std::uint64_t seed = 1;
};

/// Dimensions in mm. Sources: film width and hole pitch [SMPTE 102-2002]; hole sizes and the margin outside them for
/// camera stock and stills film as commonly tabulated (secondary source, margin from memory); 24 x 36 mm at eight
/// perforations' advance [ISO 1007:2000, scope] (numbers from a secondary source).
struct StripPlan {
    double centre_x = 120, centre_y = 30;  ///< mm on the sheet
    double angle_deg = 0;                  ///< clockwise from the strip's direction
    bool vertical = false;
    std::vector<FramePlan> frames;
    double tail = 2;  ///< mm of film after the last frame; less than 0 cuts into it
    double bow = 0;   ///< mm by which the strip's middle stands off the line between its ends, downwards when it lies level
    double film_width = 34.975, perforation_pitch = 4.750, hole_along = 1.981, hole_across = 2.794, hole_margin = 2.01;
    double hole_phase = 1.3;
    bool perforated = true;
    double frame_width = 36, frame_height = 24, frame_shift = 0;  ///< shift across the film
    std::array<double, 3> base{0.12, 0.35, 0.70};
    bool silver = false;   ///< black and white: neutral
    double grain = 0.004;  ///< density, at one overview pixel
    int smears = 0, specks = 0;
    std::uint64_t seed = 1;
};

struct SheetPlan {
    double width_mm = 250, height_mm = 60;
    double px_per_mm = 6;  ///< of the overview
    int factor = 1;
    bool resolution_stated = true;
    double stated_error = 1;  ///< the stated resolution is the true one times this
    std::vector<StripPlan> strips;
    bool holder = false;
    double opening_height = 25.6, opening_extra = 2;  ///< mm; the opening is longer than the film by this at each end
    double bare_level = 0.93, falloff = 0.04, flare = 0.003, holder_density = 3.4;
    double blur_px = 0.6;  ///< standard deviation of the scanner's spread, overview pixels
    double noise = 0.002;  ///< standard deviation of light at full scale; falls with the root of light
    std::uint64_t seed = 1;
};

struct TrueFrame {
    int strip = 0;
    FrameKind kind = FrameKind::picture;
    Scene scene = Scene::textured;
    double stops = 0;
    Quad corners{};  ///< scan pixels
};
struct DrawnSheet {
    Overview overview;
    std::vector<TrueFrame> frames;
};
[[nodiscard]] DrawnSheet draw(const SheetPlan& plan);

/// A sheet as varied as real ones: holder or glass, lying or standing strips, tilts, jitter, stocks, faults.
[[nodiscard]] SheetPlan random_sheet(std::uint64_t seed, double px_per_mm);

/// Adds `n` plain textured frames to a strip.
[[nodiscard]] StripPlan strip_of(int n, std::uint64_t seed = 1);

}  // namespace basefog::drawn
