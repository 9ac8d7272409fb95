// SPDX-License-Identifier: GPL-3.0-or-later
// A strip laid straight: small square cells of density, and how far each stands above the strip's own base.
#pragma once

#include "strips.h"

#include <array>
#include <vector>

namespace basefog::frames {

enum class Cell : unsigned char {
    unseen,  ///< outside the visible film, or too near a holder's edge or a hole
    film,
    bare,  ///< bare light: a perforation, or beyond the strip's end
};

/// Density above base that light past the gate left, the same from edge to edge, at places along the strip.
struct Fog {
    double u_first = 0, side = 0;  ///< mm: the first entry's beginning, and each one's length
    std::vector<std::array<float, 3>> density;
    [[nodiscard]] double at(int channel, double u) const;
};

/// Base density over a strip: per channel a quadratic along it and a line across it, in density relative to bare light.
struct BaseLevel {
    std::array<std::array<double, 4>, 3> terms{};  ///< of 1, u, u^2, v with u, v in units of 100 mm
    std::array<double, 3> weight{};                ///< of each channel in the combined density; they sum to 1
    std::array<double, 3> noise{};                 ///< standard deviation of a cell at base level
    double share = 0;                              ///< of the film's cells that sit at base level
    Fog fog;                                       ///< empty: none
    [[nodiscard]] double at(int channel, double u, double v) const;
    /// The fog's part in the combined density.
    [[nodiscard]] double fog_at(double u) const;
};

struct StripCells {
    Pose pose;
    double u_first = 0, v_first = 0;  ///< mm of the grid's first corner
    double side = 0;                  ///< mm
    int nu = 0, nv = 0;
    std::vector<Cell> kind;  ///< nv x nu
    std::vector<std::array<float, 3>> density;
    std::vector<float> above;  ///< combined density above base (and fog); meaningful where kind is film. Under fog it is damped, see `damping`
    BaseLevel base;
    /// Noise of density grows as less light gets through; differences under fog shrink by as much, so that one noise holds for all.
    [[nodiscard]] double damping(int iu) const;
    [[nodiscard]] std::size_t index(int iu, int iv) const { return static_cast<std::size_t>(iv) * static_cast<std::size_t>(nu) + static_cast<std::size_t>(iu); }
    [[nodiscard]] double u_of(int iu) const { return u_first + (iu + 0.5) * side; }
    [[nodiscard]] double v_of(int iv) const { return v_first + (iv + 0.5) * side; }
};

/// Cells in `pose`, which may be turned a little against the place's own.
[[nodiscard]] StripCells sample_strip(const Overview& overview, const SheetLight& light, const StripPlace& place, const Pose& pose);

/// Finds the clearest consistent level and fills `base` and `above`.
void measure_base(StripCells& cells);
/// Adds fog to the base, an entry a column, and fills `above` again.
void set_fog(StripCells& cells, std::vector<std::array<float, 3>> fog);

}  // namespace basefog::frames
