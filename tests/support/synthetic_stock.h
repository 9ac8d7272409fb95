// SPDX-License-Identifier: GPL-3.0-or-later
// Invented film stocks and scanners, described by spectra. Nothing here comes from the library under test.
//
// A stock is three layers (red-, green-, blue-sensitive, forming cyan, magenta and yellow dye). Each layer turns
// log10 exposure into an amount of dye; the dyes, the coloured couplers that make the orange mask, and the support
// absorb by wavelength; a scanner channel sees the light that is left, summed over its own band. So channel densities
// are close to linear in the dyes, but not exactly, and mixed: as in real film and scanners.
//
// Dye amounts are in density at 640, 540 and 450 nm, where the Status M responses peak [ISO5-3].
// log10 H = 0 is an 18 % grey exposed as the stock's box speed has it.
#pragma once

#include <array>
#include <string>
#include <vector>

namespace synthetic {

using Triple = std::array<double, 3>;

/// One hump of a spectrum: two half Gaussians back to back.
struct Lobe {
    double peak_nm, below_nm, above_nm, height;
};
struct Spectrum {
    std::vector<Lobe> lobes;
    double even = 0;      ///< added at every wavelength
    double infrared = 0;  ///< at the scanner's infrared lamp
    [[nodiscard]] double at(double nm) const;
};

/// A layer's crystals come in sizes; each size answers exposure with a normal distribution function. Their sum has a
/// toe, a straight line and a shoulder.
struct Layer {
    double gamma = 0.6;        ///< slope of the straight line, dye per log10 H
    double toe_log_h = -1.15;  ///< where the straight line, prolonged, meets the fog
    double latitude = 3.0;     ///< log10 H from there to the shoulder
    double toe_spread = 0.20, shoulder_spread = 0.42;
    double fog = 0.04;       ///< dye without exposure
    double granularity = 6;  ///< 1000 x RMS density in a 48 um aperture at dye 1 [ISO10505]
    /// Dye above fog.
    [[nodiscard]] double dye(double log_h) const;
};

struct Coupler {
    Spectrum colour;        ///< of the unused coupler
    int consumed_by = 1;    ///< which dye uses it up
    double per_dye = 0.15;  ///< share used up by one unit of that dye
};

struct FilmStock {
    std::string name;
    bool silver = false;  ///< black-and-white: layer 0 alone, its image neutral and dense in infrared
    double balance_kelvin = 5500;
    std::array<Layer, 3> layers;
    std::array<Spectrum, 3> dyes;
    std::vector<Coupler> mask;
    Spectrum support;
    std::array<Triple, 3> sensitivity{{{1, 0, 0}, {0, 1, 0}, {0, 0, 1}}};  ///< of a layer to the scene's r, g, b; rows add to 1
    /// log10 exposure each layer gains or loses in a light of another colour temperature; green's is 0.
    [[nodiscard]] Triple light_offset(double light_kelvin) const;
};

[[nodiscard]] FilmStock daylight_50();
[[nodiscard]] FilmStock daylight_250();
[[nodiscard]] FilmStock tungsten_200();
[[nodiscard]] FilmStock tungsten_500();
[[nodiscard]] FilmStock black_and_white_400();

/// The stock in stills chemistry: steeper, and its layers no longer parallel.
[[nodiscard]] FilmStock cross_processed(FilmStock stock);
struct Ageing {
    Triple fog{0.06, 0.10, 0.16};         ///< dye added
    Triple speed_loss{0.20, 0.25, 0.38};  ///< log10 H
    double gamma_kept = 0.95;
    double granularity_factor = 1.3;
};
[[nodiscard]] FilmStock aged(FilmStock stock, const Ageing& ageing = {});

struct Scanner {
    std::string name;
    std::array<Spectrum, 3> channels;  ///< lamp x filter x sensor
    bool camera = false;               ///< channels as its sensor has them
    double white = 0.92;               ///< reading of bare light at the sheet's centre, of full scale
    double falloff = 0.05;             ///< share of light lost in the corners
    Triple lean{0.010, 0.0, -0.008};   ///< how unevenly red, green and blue fall from left to right
    double flare = 0.002;              ///< stray light, share of the sheet's mean
    double read_noise = 0.00012;       ///< of full scale
    double shot_noise = 0.0006;        ///< of full scale, at full scale
    double blur_px = 0.55;             ///< sigma
    double infrared_shift_x_px = 0, infrared_shift_y_px = 0;
    double infrared_blur_px = 0;  ///< sigma by which infrared is softer than the colours
};
[[nodiscard]] Scanner lamp_flatbed();   ///< white lamp, three filters
[[nodiscard]] Scanner diode_flatbed();  ///< three narrow diodes
[[nodiscard]] Scanner camera_stand();   ///< a camera's broad, overlapping channels

/// A stock seen by a scanner: transmittance of red, green, blue and infrared for dye amounts (fog included).
class FilmOptics {
public:
    FilmOptics(const FilmStock& stock, const Scanner& scanner);
    [[nodiscard]] std::array<float, 4> transmittance(const std::array<float, 3>& dye) const;
    [[nodiscard]] std::array<double, 4> density(const Triple& dye) const;
    /// Unexposed, processed film.
    [[nodiscard]] std::array<double, 4> base_density() const { return density(fog_); }
    [[nodiscard]] const Triple& fog() const { return fog_; }

private:
    /// One wavelength after another, side by side so that several are summed at once; base and slopes in natural-log units.
    struct Terms {
        std::vector<float> weight, base;
        std::array<std::vector<float>, 3> slope;
    };
    std::array<Terms, 4> terms_;
    Triple fog_{};
};

}  // namespace synthetic
