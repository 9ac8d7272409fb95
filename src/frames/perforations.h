// SPDX-License-Identifier: GPL-3.0-or-later
// The lattice of perforations: found by its regular spacing, then measured hole by hole.
#pragma once

#include "film_axis.h"

#include <optional>

namespace basefog::frames {

struct Spacing {
    double pitch = 0;     ///< in the place's millimetres
    double phase = 0;     ///< u of one hole's middle
    double strength = 0;  ///< 0..1; a lattice of clean holes gives about 0.7
    bool top = false;     ///< along which edge it was seen
};
/// Looks for regularly spaced bare light along the long edges, at pitches from `least` to `most` of the place's mm.
[[nodiscard]] std::optional<Spacing> find_spacing(const Overview& overview, const SheetLight& light, const StripPlace& place, double least, double most);

/// All lengths in the place's millimetres.
struct Lattice {
    double pitch = 0, pitch_std = 0, phase = 0;
    double hole_height = 0, hole_height_std = 0;  ///< along the film
    int holes = 0;
    std::optional<Parabola> inner;  ///< course of the holes' inner edges, of the upper row if that is in view
    double axis_v = 0;              ///< the film's middle by those edges
};
/// nullopt: no lattice in view.
[[nodiscard]] std::optional<Lattice> fit_lattice(const Overview& overview, const SheetLight& light, const StripPlace& place, const Spacing& spacing);

/// What the lattice says about the film; `trusted`: the place's millimetres come from elsewhere than the lattice itself.
[[nodiscard]] Perforations describe_lattice(const Lattice& lattice, bool trusted);

}  // namespace basefog::frames
