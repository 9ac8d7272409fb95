// SPDX-License-Identifier: GPL-3.0-or-later
// How overlapping shots of one strip lie: by the film's perforations, and by what the shots share of the pictures. See docs/stages/frames.md.
#pragma once

#include "basefog/core/lens.h"
#include "basefog/core/similarity.h"
#include "basefog/frames/types.h"
#include "basefog/scan/types.h"

#include <cstdint>
#include <optional>
#include <vector>

namespace basefog {

/// The perforations in view that are whole, and where in their lattice they are.
struct ShotHoles {
    std::vector<PointPx> at;  ///< their middles, pixels of the full shot, as the lens shows them
    std::vector<int> row;     ///< 0 or 1: the upper or left row, the lower or right one
    std::vector<int> place;   ///< along the row, in pitches from any first one
    double pitch_px = 0;
    PointPx along;                   ///< unit vector along the film, to the right or down
    double row_width_px = 0;         ///< of a hole, across the film
    std::vector<Rgb<double>> light;  ///< bare light in each, of full scale; 0 where it is at the white limit; empty where a light frame was divided out
};

/// What one shot shows, as far as the others are fitted to it by that.
struct ShotLook {
    Overview overview;
    ShotHoles holes;
    Image<float> detail;  ///< coarse densities less their surroundings
    Image<float> use;     ///< 1 where they are the film's own, 0 on holes, holder and bare light
    int coarse_px = 1;    ///< pixels of the shot to one of `detail`
};
[[nodiscard]] ShotLook look_at_shot(Overview overview);

/// One place on the film that two shots show.
struct ShotTie {
    PointPx first, second;          ///< pixels of the full shots, as the lens shows them
    double xx = 0, xy = 0, yy = 0;  ///< what it says of where: inverse covariance, 1 / px^2
};

/// What two shots, one after the other, have in common.
struct ShotMatch {
    bool found = false;          ///< surely the same film
    double likeness = 0;         ///< correlation of what they share, roughly aligned, -1 to 1
    double sureness = 0;         ///< of it, in standard deviations of chance
    Similarity second_to_first;  ///< straightened shots
    std::vector<ShotTie> ties;
    /// Even film that both show: light in the second over light in the first.
    struct Place {
        PointPx first, second;  ///< pixels of the full shots
        Rgb<double> ratio;
    };
    std::vector<Place> places;
    Rgb<double> level{1, 1, 1};  ///< how much more light the second got
    double level_std = 0;        ///< log10, of one place
};
/// Rough, by what can be seen at a glance: where `second` would lie on `first`, and how sure that is. Pure; takes milliseconds.
[[nodiscard]] ShotMatch glance(const ShotLook& first, const ShotLook& second);
/// The same in full: found roughly, then place by place to a fraction of a pixel.
[[nodiscard]] ShotMatch match_shots(const ShotLook& first, const ShotLook& second);

/// What became of a strip's shots.
struct JoinedShots {
    StripJoin join;
    LensModel lens;
    double lens_px = 0;  ///< furthest that it moves anything, apart from scale
    bool lens_told = false;
    StripDirection direction = StripDirection::horizontal;  ///< of the strip on the shots
    int holes = 0;                                          ///< that the lattice was fitted to, over all shots
    double holes_off_px = 0;                                ///< how far they lie from it: root mean square
    struct Overlap {
        double along_px = 0;  ///< length that both show
        double off_px = 0;    ///< how far apart the two show a place: root mean square of those that agree
        int ties = 0;
        double scale = 1;  ///< of the second beside the first
        double turned_deg = 0;
        Rgb<double> level{1, 1, 1};
    };
    std::vector<Overlap> overlaps;  ///< in the shots' order
    bool in_order = true;           ///< each lies further along the strip than the one before
    double common_across_px = 0;    ///< width of the strip that all shots show
    double falloff_std = 0;         ///< log10, at a shot's corner; of the join's falloff, if it has one
};
/// All shots at once: places, lens and lattice that fit perforations and ties best. `holes` one for each shot, `matches` one less. Shots
/// are levelled by what they share and, where no light frame was divided out, by bare light in perforations, which tell how light falls off, too.
[[nodiscard]] JoinedShots join_shots(const std::vector<ShotHoles>& holes, const std::vector<ShotMatch>& matches, std::int64_t width, std::int64_t height,
                                     bool light_divided);

}  // namespace basefog
