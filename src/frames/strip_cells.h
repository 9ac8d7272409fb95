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

/// Base density over a strip: per channel a quadratic along it and a line across it, in density relative to bare light.
struct BaseLevel {
    std::array<std::array<double, 4>, 3> terms{};  ///< of 1, u, u^2, v with u, v in units of 100 mm
    std::array<double, 3> weight{};                ///< of each channel in the combined density; they sum to 1
    std::array<double, 3> noise{};                 ///< standard deviation of a cell at base level
    double share = 0;                              ///< of the film's cells that sit at base level
    [[nodiscard]] double at(int channel, double u, double v) const;
};

struct StripCells {
    Pose pose;
    double u_first = 0, v_first = 0;  ///< mm of the grid's first corner
    double side = 0;                  ///< mm
    int nu = 0, nv = 0;
    std::vector<Cell> kind;  ///< nv x nu
    std::vector<std::array<float, 3>> density;
    std::vector<float> above;  ///< combined density above base; meaningful where kind is film
    BaseLevel base;
    [[nodiscard]] std::size_t index(int iu, int iv) const { return static_cast<std::size_t>(iv) * static_cast<std::size_t>(nu) + static_cast<std::size_t>(iu); }
    [[nodiscard]] double u_of(int iu) const { return u_first + (iu + 0.5) * side; }
    [[nodiscard]] double v_of(int iv) const { return v_first + (iv + 0.5) * side; }
};

/// Cells in `pose`, which may be turned a little against the place's own.
[[nodiscard]] StripCells sample_strip(const Overview& overview, const SheetLight& light, const StripPlace& place, const Pose& pose);

/// Finds the clearest consistent level and fills `base` and `above`.
void measure_base(StripCells& cells);

}  // namespace basefog::frames
