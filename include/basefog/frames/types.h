// SPDX-License-Identifier: GPL-3.0-or-later
// Where strips and frames lie on a scan. Geometry only: nothing here knows densities.
#pragma once

#include "basefog/core/finding.h"
#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/measured.h"
#include "basefog/core/units.h"

#include <array>
#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

namespace basefog {

/// The camera's gate, and with it the kind of film. `automatic` is only ever asked for, never found.
enum class FrameFormat { automatic, full, half, panoramic, roll_6x45, roll_6x6, roll_6x7 };

/// A format's nominal dimensions. Along the strip, across it, and from one frame to the next.
struct FormatSize {
    FrameFormat format = FrameFormat::full;
    std::string_view name;  ///< as the trade writes it, and as options and the report spell it
    Millimetres along, across, advance, film_width;
    bool perforated = true;
};
/// Sources: 35 mm film's width [SMPTE102]; the full frame [ISO1007] (its numbers from a secondary source); the others are the trade's,
/// from memory. Half frame advances 4 perforations, panoramic 15 or 16; roll film has none, its cameras space frames by 3 to 8 mm.
inline constexpr std::array<FormatSize, 6> kFormats{{
    {FrameFormat::full, "36x24", Millimetres(36.0), Millimetres(24.0), Millimetres(38.0), Millimetres(34.975), true},
    {FrameFormat::half, "18x24", Millimetres(18.0), Millimetres(24.0), Millimetres(19.0), Millimetres(34.975), true},
    {FrameFormat::panoramic, "24x65", Millimetres(65.0), Millimetres(24.0), Millimetres(71.25), Millimetres(34.975), true},
    {FrameFormat::roll_6x45, "6x4.5", Millimetres(41.5), Millimetres(56.0), Millimetres(46.5), Millimetres(61.5), false},
    {FrameFormat::roll_6x6, "6x6", Millimetres(56.0), Millimetres(56.0), Millimetres(61.5), Millimetres(61.5), false},
    {FrameFormat::roll_6x7, "6x7", Millimetres(69.5), Millimetres(56.0), Millimetres(75.0), Millimetres(61.5), false},
}};
/// `automatic` gives the full frame's.
[[nodiscard]] constexpr const FormatSize& size_of(FrameFormat format) {
    for (const FormatSize& size : kFormats) {
        if (size.format == format) return size;
    }
    return kFormats[0];
}
[[nodiscard]] constexpr std::string_view name_of(FrameFormat format) { return format == FrameFormat::automatic ? "auto" : size_of(format).name; }
/// nullopt: no such format. "auto" is one.
[[nodiscard]] constexpr std::optional<FrameFormat> format_named(std::string_view name) {
    if (name == "auto") return FrameFormat::automatic;
    for (const FormatSize& size : kFormats) {
        if (size.name == name) return size.format;
    }
    return std::nullopt;
}

enum class FrameKind {
    picture,
    blank,   ///< nothing was exposed: base all over
    fogged,  ///< exposed all over, no picture (camera opened, leader)
};

struct FrameBox {
    Quad corners{};  ///< full-resolution scan pixels, read order (see Quad)
    FrameKind kind = FrameKind::picture;
    double confidence = 0;         ///< 0..1: the edges are within 0.25 mm
    Millimetres edge_std{};        ///< standard uncertainty of an edge's place
    bool placed_by_pitch = false;  ///< no edge of its own was seen; placed from its neighbours
    bool by_hand = false;          ///< from a layout file
    bool cut_off = false;          ///< the film or the scan ends within the frame; the corners hold what is there
    friend bool operator==(const FrameBox&, const FrameBox&) = default;
};

/// What could be read of the print along a strip's edges.
struct EdgePrint {
    enum class Kind {
        none,          ///< edges hidden, no print, or not legible
        numbers,       ///< frame numbers in figures, counting up: tells how the strip lies
        machine_code,  ///< a Code 128 symbol: tells strips of one roll that lie differently apart, no more
    };
    Kind kind = Kind::none;
    std::string text;             ///< as read: "7 8 8A 9", or the code's characters
    double confidence = 0;        ///< 0..1 that `mirrored` and `turned` are right; 0 unless numbers were read
    bool turned = false;          ///< to be rotated by 180 degrees (after mirroring, if that as well)...
    bool mirrored = false;        ///< ...to be mirrored left to right: it lies with its wrong side down
    bool code_backwards = false;  ///< the machine-readable code runs against the strip's reading direction...
    bool code_below = false;      ///< ...and lies along its lower edge
    friend bool operator==(const EdgePrint&, const EdgePrint&) = default;
};

enum class StripDirection { horizontal, vertical };

/// Which perforations the film has: told by the hole's height over the pitch, which needs no scale.
enum class PerforationKind { unknown, long_pitch, short_pitch };
[[nodiscard]] constexpr std::string_view name_of(PerforationKind kind) {
    return kind == PerforationKind::long_pitch ? "long_pitch" : kind == PerforationKind::short_pitch ? "short_pitch" : "unknown";
}
/// The lattice of holes along a strip. Lengths in millimetres by the layout's scale: where that scale was taken from the
/// perforations themselves, the pitch says nothing new, and `shrinkage` is flagged as assumed.
struct Perforations {
    PerforationKind kind = PerforationKind::unknown;
    double kind_confidence = 0;         ///< 0.5..1: that the kind is right; 0 where it is unknown
    Measured<Millimetres> pitch;        ///< along the film, from hole to hole
    Measured<Millimetres> hole_height;  ///< along the film
    Measured<double> shrinkage;         ///< 1 - pitch / the kind's nominal pitch; holds the scanner's own error of scale
    int holes = 0;                      ///< that the lattice was fitted to
    friend bool operator==(const Perforations&, const Perforations&) = default;
};

struct StripBox {
    Quad corners{};        ///< of the visible film, read order; its ends lie on the axis however it bows
    double angle_deg = 0;  ///< of the strip's axis: clockwise from +x (horizontal) or from +y (vertical)
    StripDirection direction = StripDirection::horizontal;
    bool perforations_seen = false;
    double confidence = 0;  ///< mean of its frames'
    EdgePrint edge_print;
    FrameFormat format = FrameFormat::full;
    double format_confidence = 0;  ///< 0..1: that no other format explains the strip as well
    std::optional<Perforations> perforations;
    Measured<Millimetres> bow;     ///< of the axis' middle from the line between its ends, towards the read picture's lower edge
    bool film_edges_seen = false;  ///< the corners' long sides are the film's own (and bow with it), not a holder's opening
    std::vector<FrameBox> frames;  ///< in reading order along the strip
    friend bool operator==(const StripBox&, const StripBox&) = default;
};

/// What the scale (pixels per millimetre) of the layout was taken from.
enum class ScaleOrigin { file, option, perforations, film_width, assumed };

struct SheetLayout {
    std::vector<StripBox> strips;  ///< in scan order: top to bottom, or left to right when they lie vertically
    PixelsPerMm scale{};           ///< of the full scan
    ScaleOrigin scale_origin = ScaleOrigin::file;
    std::vector<Finding> findings;
};

/// What each overview pixel shows; kept well inside its area (edges belong to `unsure`).
enum class Region : std::uint8_t {
    unsure = 0,
    holder,      ///< opaque parts of a holder
    bare_light,  ///< no film: perforations, beyond a strip's end, empty openings, bare glass
    clear_film,  ///< rebate, gaps and blank frames: base, edge marks and whatever lies on it
    picture,     ///< inside a picture frame
    fogged,      ///< inside a fogged frame
};
struct RegionMap {
    Image<Region> labels;       ///< overview size
    Image<std::int16_t> strip;  ///< index of the strip a film pixel belongs to, -1 elsewhere
};

}  // namespace basefog
