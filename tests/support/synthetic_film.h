// SPDX-License-Identifier: GPL-3.0-or-later
// Invented sheets of film strips as a scanner would see them, with the truth about them.
//
// Used by the tests as an oracle and by the demo. It includes no header of the library and shares none of its
// formulas: exposures go through the stock's own curves to dyes, through spectra to transmittances, and through the
// scanner's light, stray light, blur and noise to code values. Edges are placed by exact area coverage along their
// normals, so the truth's corners hold to 0.01 mm. Same specification, same pixels.
//
// Lengths are in millimetres. On a strip, s runs along the film from its first end and t across it from its upper
// edge. Positions on the sheet are x to the right and y down from the top-left corner; `_px` are continuous pixels
// with (0, 0) at that corner. It does not draw film that buckles, interference rings, or strips that overlap.
#pragma once

#include "support/synthetic_scenes.h"
#include "support/synthetic_stock.h"

#include <opencv2/core.hpp>

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace synthetic {

/// Cutting dimensions. The defaults are the stills film's.
struct Perforations {
    double pitch = 4.750;
    double height = 1.981;        ///< along the film
    double width = 2.794;         ///< across the film
    double edge_distance = 2.01;  ///< film edge to hole
    double corner_radius = 0.51;
    bool curved_sides = false;  ///< motion-picture camera stock: sides are arcs of a circle of diameter `width`, corners sharp
};
/// Print and stills film (type KS) and camera negative with short pitch (type BH) [SMPTE102, SMPTE139, SMPTE93].
[[nodiscard]] Perforations long_pitch_perforations();
[[nodiscard]] Perforations short_pitch_perforations();

struct FrameSpec {
    SceneSpec scene;    ///< kind blank or fogged for a frame without a picture
    double stops = 0;   ///< exposure against the meter
    double shift = 0;   ///< this frame's own error along the strip, mm
    int number = 0;     ///< 0: counted on from the one before
    bool skip = false;  ///< not even a frame: the advance stands, nothing is told of it
};

/// Carbon backing left on the film: neutral, and opaque in infrared.
struct Residue {
    double veil = 0;         ///< even density, with slow variation
    double edge_smears = 0;  ///< 0..1: how much of both edges they cover
    double spots_per_frame = 0;
    double streaks = 0;     ///< along the travel, count over the strip
    double density = 0.35;  ///< of smears, spots and streaks at their cores
};

enum class EdgeMarks { none, numbers, bars };
enum class Direction { horizontal, vertical };

struct StripSpec {
    std::string roll;
    FilmStock stock = daylight_250();
    double light_kelvin = 5500;  ///< the pictures were taken in
    double rated_over = 0;       ///< stops of exposure beyond box speed, added to each frame's
    std::vector<FrameSpec> frames;
    Direction direction = Direction::horizontal;
    double x = 10, y = 10;  ///< on the sheet, of the film's top-left corner before tilting, mm
    double tilt_deg = 0;    ///< clockwise, about that strip's centre
    double bow = 0;         ///< how far the middle stands off the chord, mm
    bool turned = false;    ///< lies the other way round
    bool mirrored = false;  ///< wrong side down
    double film_width = 34.975;
    double shrinkage = 0;  ///< 0.002: everything on the film is 0.2 % shorter
    Perforations perforations;
    double perforation_phase = 1.2;  ///< s of the first hole's centre
    double frame_width = 36, frame_height = 24, frame_shift_across = 0;
    double frame_pitch = 0;    ///< 0: eight perforations
    double lead = 2.0;         ///< clear film before the first frame
    double tail = 2.0;         ///< and behind the last
    double gap_jitter = 0.12;  ///< standard deviation of each advance, mm
    EdgeMarks marks = EdgeMarks::numbers;
    Residue residue;
};

struct Dust {
    double specks_per_cm2 = 0, fibres_per_cm2 = 0, scratches = 0;
};

enum class HolderKind { none, hides_perforations, shows_perforations };
struct Holder {
    HolderKind kind = HolderKind::none;
    double opening = 0;         ///< across the film, mm; 0: 27 or 35.6 by kind
    double beyond_ends = 2.0;   ///< bare light left at either end of a strip; negative hides the ends
    double opening_length = 0;  ///< along the film; 0: the strip's length and `beyond_ends`
    double density = 3.4;
    std::vector<std::array<double, 4>> empty_openings;  ///< x, y, width, height on the sheet
};

enum class Encoding { linear, gamma22, srgb };

struct SheetSpec {
    std::string file = "sheet.tif";
    double dpi = 300;
    double width = 260, height = 190;
    Scanner scanner = lamp_flatbed();
    Holder holder;
    Dust dust;
    bool infrared = false;
    Encoding encoding = Encoding::linear;
    int bits = 16;
    bool noise = true;  ///< grain and sensor noise
    std::vector<StripSpec> strips;
    std::uint64_t seed = 1;
};

using PointMm = std::array<double, 2>;
using Corners = std::array<std::array<double, 2>, 4>;

struct FrameTruth {
    int number = 0;
    std::string scene;
    double stops = 0;      ///< against the meter at box speed, rating included
    Corners corners_px{};  ///< as it lies on the scan, read from the strip's left (upper) end
};
struct StripTruth {
    std::string roll, stock;
    double angle_deg = 0;
    Corners corners_px{};                  ///< of the film that can be seen
    Corners film_corners_px{};             ///< of the whole film, hidden parts included
    std::array<double, 4> base_density{};  ///< red, green, blue, infrared
    Triple gamma{}, fog{}, toe_log_h{}, layer_offset_log_h{};
    double residue_area_percent = 0;  ///< of the visible film: residue density above 0.05
    double residue_mean_density = 0, residue_veil = 0;
    std::string residue_level;       ///< clean, trace, partial, heavy
    std::vector<FrameTruth> frames;  ///< in reading order on the scan
};

struct Sheet {
    cv::Mat light;    ///< CV_32FC3 (r, g, b) or CV_32FC4 (and infrared), 1 = full scale, linear
    cv::Mat residue;  ///< CV_32F density
    cv::Mat dust;     ///< CV_32F density
    std::vector<StripTruth> strips;
};

/// Draws the sheet. Cost grows with the film's area in pixels: about 1.5 s for four strips of six at 300 dpi, scenes apart.
[[nodiscard]] Sheet draw_sheet(const SheetSpec& spec);

/// Length of a strip from its frames, advance, lead and tail.
[[nodiscard]] double strip_length(const StripSpec& spec);

/// The encoded samples, rounded: CV_16U or CV_8U, channels as `sheet.light`.
[[nodiscard]] cv::Mat encode(const Sheet& sheet, const SheetSpec& spec);

}  // namespace synthetic
