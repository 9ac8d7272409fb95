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
// with (0, 0) at that corner. A strip may lie partly outside the sheet, and strips may touch. It does not draw film that
// buckles, interference rings, or strips that overlap.
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

/// Something dark in the picture that reaches its edge: a black sky, a door frame, a bar.
struct DarkEdge {
    int side = 0;          ///< of the picture: 0 left, 1 top, 2 right, 3 bottom
    double reach = 6;      ///< mm into the picture
    double ragged = 0;     ///< mm: how far its outline wanders
    double light = 0.002;  ///< scene light there
};

struct FrameSpec {
    SceneSpec scene;     ///< kind blank or fogged for a frame without a picture
    double stops = 0;    ///< exposure against the meter
    double shift = 0;    ///< this frame's own error along the strip, mm
    int number = 0;      ///< 0: counted on from the one before
    bool skip = false;   ///< not even a frame: the advance stands, nothing is told of it
    double advance = 0;  ///< added to the advance before this frame, mm: -2 closes the usual gap, less lets frames overlap
    std::vector<DarkEdge> dark_edges = {};
    std::vector<std::string> difficulties = {};  ///< names of what was drawn here on purpose; handed on to the truth
};

/// Carbon backing left on the film: neutral, and opaque in infrared.
struct Residue {
    double veil = 0;         ///< even density, with slow variation
    double edge_smears = 0;  ///< 0..1: how much of both edges they cover
    double spots_per_frame = 0;
    double streaks = 0;     ///< along the travel, count over the strip
    double density = 0.35;  ///< of smears, spots and streaks at their cores
};

/// Marks the maker exposed on the film, dense on the negative. Along the upper edge (t small) run numbers, 1.4 mm high;
/// `bars` puts meaningless bars on the lower edge; `code` puts a code there that can be read.
///
/// The key code, an invented convention like the trade's: hold the film with the emulsion away from you, the pictures
/// upright and their numbers rising to the right (a strip here that is neither turned nor mirrored). Then the code lies on
/// the *lower* edge, outside the perforations, between `kCodeNearEdge` and `kCodeFarEdge` from it, and its start character is
/// at the *left*: it reads with s, the direction of travel. Seen on a scan it therefore lies on the
///   lower edge, starting left: as it should; upper edge, starting right: turned by 180 degrees;
///   upper edge, starting left: mirrored (wrong side down); lower edge, starting right: mirrored and turned.
/// (Of a strip that lies vertically, `left` is the scan's top and `upper` its right.)
/// It is a Code 128 symbol of code set C (ISO/IEC 15417): start C, six pairs of digits, check character, stop: 101
/// modules, with quiet zones of ten modules or more. The twelve digits: six of the key, four of feet, and two of
/// perforations past the foot (00 or 32). A foot is 64 perforations. Bars are dense, spaces clear.
enum class EdgeMarks { none, numbers, bars, code };
inline constexpr double kCodeNearEdge = 0.35, kCodeFarEdge = 1.65;  ///< mm from the film's edge
inline constexpr int kPerforationsPerFoot = 64;
struct KeyCode {
    int prefix = 482015;    ///< first six digits
    int first_foot = 1034;  ///< four digits, of the first symbol
    double first_s = 12;    ///< where the first symbol starts, mm; may be negative
    int spacing = 64;       ///< perforations from symbol to symbol: 64 or 32
    double module = 0.20;   ///< mm along the film
};

/// Light that reached the film past the camera: a soft patch, added to whatever else was exposed.
struct Leak {
    double s = 0, t = 0;              ///< its middle
    double half_s = 1, half_t = 100;  ///< standard deviations; a large half_t is a band right across
    double log_h = 0.5;               ///< log10 exposure at the middle
    Triple colour{1.2, 1.0, 0.8};
};

/// Film that saw daylight when the camera was loaded: dense from edge to edge, from the first end on.
struct FoggedLeader {
    double until = 0;  ///< s where it has fallen to half; 0: none
    double soft = 1;   ///< mm over which it falls
    double log_h = 1.6;
};

/// How the camera's gate differs from a perfect rectangle of frame_width x frame_height.
struct Gate {
    std::array<double, 4> lean_deg{};  ///< of the left, top, right and bottom side
    double rough = 0;                  ///< mm: how far a side wanders, about its straight line
    double soft = 0;                   ///< mm: half the penumbra's width; the truth is its middle
};

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
    double sway = 0;        ///< amplitude of one whole wave on top of it, mm
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
    KeyCode key;
    Residue residue;
    Gate gate;
    std::vector<Leak> leaks;
    FoggedLeader fogged_leader;
    std::vector<std::string> difficulties;
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
    bool noise = true;                 ///< grain and sensor noise
    double stretch = 0;                ///< the scan has so much more resolution along x than along y; `dpi` is that along y
    std::optional<double> stated_dpi;  ///< what the file says; nullopt: `dpi`, 0: it says nothing
    bool encoding_told = true;         ///< whether the program is told the encoding where the file's bits do not imply it
    std::vector<StripSpec> strips;
    std::uint64_t seed = 1;
    std::vector<std::string> difficulties;
};

using PointMm = std::array<double, 2>;
using Corners = std::array<std::array<double, 2>, 4>;

enum class FrameContent { picture, blank, fogged };
struct FrameTruth {
    int number = 0;
    std::string scene;
    double stops = 0;      ///< against the meter at box speed, rating included
    Corners corners_px{};  ///< what the gate let through; as it lies on the scan, read from the strip's left (upper) end
    FrameContent content = FrameContent::picture;
    Corners on_film_px{};  ///< the same, but no further than the strip's ends
    /// Of a frame that the strip's end cuts where a holder covers that end: the same, but no further than the holder lets see.
    std::optional<Corners> in_opening_px{};
    double visible_share = 1;  ///< of the gate's area: on the film, within the scan, not hidden by the holder
    bool cut_off = false;      ///< an end of the strip goes through it
    bool overlapped = false;   ///< shares film with a neighbour
    /// Density step across each side of `corners_px` (first to second corner, second to third...), root mean square along
    /// it, without grain and dirt: what there is to see of the edge.
    std::array<double, 4> edge_step{};
    std::vector<std::string> difficulties;
};
struct KeyCodeTruth {
    std::string digits;
    double s0 = 0, s1 = 0;  ///< from the start character's first bar to the stop character's last
    Corners corners_px{};   ///< start at the first and last corners: from start to stop along the outer side, back along the inner
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
    std::string residue_level;        ///< clean, trace, partial, heavy
    std::vector<FrameTruth> frames;   ///< in reading order on the scan
    std::vector<KeyCodeTruth> codes;  ///< symbols wholly on the strip, in the order of travel
    std::vector<std::string> difficulties;
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
