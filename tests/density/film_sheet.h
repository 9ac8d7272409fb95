// SPDX-License-Identifier: GPL-3.0-or-later
// An invented sheet of film drawn straight from physics, with its truth beside it: light, holder, film, dyes, carbon, dust.
// It shares no formula's code with the library. All numbers of films and scanners are made up.
#pragma once

#include "basefog/frames/types.h"
#include "basefog/scan/types.h"

#include <array>
#include <cstdint>
#include <functional>
#include <vector>

namespace film_sheet {

/// Own generator, so that draws do not depend on the library or on test order.
class Dice {
public:
    explicit Dice(std::uint64_t seed) : state_(seed * 0x9E3779B97F4A7C15ULL + 0xD1B54A32D192ED03ULL) {}
    double uniform();  ///< [0, 1)
    double uniform(double low, double high) { return low + (high - low) * uniform(); }
    double normal();

private:
    std::uint64_t state_;
};

struct Film {
    std::array<double, 3> base{0.15, 0.45, 0.80};
    double base_ir = 0.045;
    /// Channel density (row) per unit of each dye (column).
    std::array<std::array<double, 3>, 3> dyes{{{1.0, 0.12, 0.04}, {0.20, 1.05, 0.16}, {0.06, 0.30, 1.2}}};
    std::array<double, 3> infrared_leak{0.03, 0.004, 0.001};  ///< infrared density per unit of each dye
    std::array<double, 3> gamma{0.60, 0.64, 0.70};
    bool silver = false;   ///< neutral image, opaque in infrared
    double grain = 0.012;  ///< standard deviation of a dye's amount at 0.1 mm, at amount 1
};
[[nodiscard]] Film film_a();  ///< masked, like a fresh tungsten negative
[[nodiscard]] Film film_b();  ///< another mask, narrower dyes, other slopes
[[nodiscard]] Film film_silver();

struct Blob {
    double x_mm = 0, y_mm = 0, radius_mm = 1, density = 0.2;  ///< on the strip; soft edge of a tenth of the radius
    double stretch = 1;                                       ///< longer along the strip by this factor
};

struct Strip {
    Film film;
    double veil = 0;
    std::vector<Blob> carbon;
    int dust = 0;              ///< opaque specks of about 0.2 mm
    double fogged_end_mm = 0;  ///< at the film's start, density falling to nothing
    std::vector<double> leaks_mm;  ///< light leaks in from the upper edge about these places along the strip
    bool edge_marks = false;
    bool greys_only = false;  ///< the scene is neutral
    double evenness = 0.0;    ///< standard deviation of base density along the strip, slow
};

struct Sheet {
    double px_per_mm = 9;
    int factor = 1;  ///< claimed scan pixels per overview pixel
    int frames = 3;
    bool holder = true;     ///< else bare glass all round
    bool bare_ends = true;  ///< light beyond the film's ends
    bool slivers = true;    ///< perforations half under the holder
    bool infrared = false;
    std::array<double, 4> light{0.86, 0.90, 0.84, 0.88};
    double falloff = 0.06;  ///< of the light, centre to corner; not a polynomial
    double tilt = 0.02;
    double glare = 0.001;  ///< share of the mean light of the surroundings added everywhere
    double noise = 0.003;  ///< relative, a pixel
    double dark_noise = 0.00002;
    std::uint64_t seed = 1;
    std::vector<Strip> strips;
};

struct Drawn {
    basefog::Overview overview;
    basefog::SheetLayout layout;
    basefog::RegionMap regions;
    basefog::Image<float> carbon;                                ///< true residue density, veil included
    basefog::Image<std::uint8_t> dust;                           ///< 1 on dust
    std::vector<basefog::PointPx> dust_at;                       ///< overview pixels
    std::vector<double> carbon_percent;                          ///< per strip, of the visible film: denser than 0.05
    std::array<std::function<double(double, double)>, 4> light;  ///< true bare light at an overview position
};
[[nodiscard]] Drawn draw(const Sheet& sheet);

/// Blobs that cover about `percent` of a strip of that many frames, most of them along the edges.
[[nodiscard]] std::vector<Blob> smears(double percent, int frames, Dice& dice);

inline constexpr double kFilmHeightMm = 26.4;  ///< visible between the holder's edges
[[nodiscard]] inline double film_length_mm(int frames) { return 38.0 * frames + 2; }

}  // namespace film_sheet
