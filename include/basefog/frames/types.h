// SPDX-License-Identifier: GPL-3.0-or-later
// Where strips and frames lie on a scan. Geometry only: nothing here knows densities.
#pragma once

#include "basefog/core/finding.h"
#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/units.h"

#include <cstdint>
#include <string>
#include <vector>

namespace basefog {

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

struct StripBox {
    Quad corners{};        ///< of the visible film, read order
    double angle_deg = 0;  ///< of the strip's axis: clockwise from +x (horizontal) or from +y (vertical)
    StripDirection direction = StripDirection::horizontal;
    bool perforations_seen = false;
    double confidence = 0;
    EdgePrint edge_print;
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
