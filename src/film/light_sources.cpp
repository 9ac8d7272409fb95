// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/light_sources.h"

#include "film/constants.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace basefog::film {
namespace {

/// CIE daylight components [CIE15], from memory: wavelength in nm, S0, S1, S2. Only where the layers look.
struct Component {
    double nm, s0, s1, s2;
};
// Chosen bands: sensitivity of camera negatives' layers peaks near 635, 550 and 450 nm; a mean over 50 to 60 nm about each.
// Moving a band by 15 nm moves tungsten-in-daylight offsets by about 0.04: that goes into the balance prior's sigma.
constexpr std::array<Component, 6> kRedBand{{{610, 90.30, -7.20, 4.10},
                                             {620, 88.40, -8.60, 4.70},
                                             {630, 84.00, -9.50, 5.10},
                                             {640, 85.10, -10.90, 6.70},
                                             {650, 81.90, -10.70, 7.30},
                                             {660, 82.60, -12.00, 8.60}}};
constexpr std::array<Component, 6> kGreenBand{{{520, 106.50, 8.60, -1.20},
                                               {530, 108.80, 6.10, -1.00},
                                               {540, 105.30, 4.20, -0.50},
                                               {550, 104.40, 1.90, -0.30},
                                               {560, 100.00, 0.00, 0.00},
                                               {570, 96.00, -1.60, 0.20}}};
constexpr std::array<Component, 6> kBlueBand{{{420, 105.90, 43.90, -0.70},
                                              {430, 96.80, 37.10, -1.20},
                                              {440, 113.90, 36.70, -2.60},
                                              {450, 125.60, 35.90, -2.90},
                                              {460, 125.50, 32.60, -2.80},
                                              {470, 121.30, 27.90, -2.60}}};
constexpr double kSecondRadiationNmK = 1.438776877e7;  // Defined: h c / k
constexpr double kLeastKelvin = 1000, kDaylightFromKelvin = 4000, kMostKelvin = 25000;

/// Daylight of a correlated colour temperature as S0 + m1 S1 + m2 S2 [CIE15].
double daylight(const Component& c, double kelvin) {
    const double t = kelvin;
    const double x = t <= 7000 ? -4.6070e9 / (t * t * t) + 2.9678e6 / (t * t) + 0.09911e3 / t + 0.244063
                               : -2.0064e9 / (t * t * t) + 1.9018e6 / (t * t) + 0.24748e3 / t + 0.237040;
    const double y = -3.000 * x * x + 2.870 * x - 0.275;
    const double m = 0.0241 + 0.2562 * x - 0.7341 * y;
    const double m1 = (-1.3515 - 1.7703 * x + 5.9114 * y) / m, m2 = (0.0300 - 31.4424 * x + 30.0717 * y) / m;
    return c.s0 + m1 * c.s1 + m2 * c.s2;
}

double planck(double nm, double kelvin) { return std::pow(nm / 560.0, -5) / std::expm1(kSecondRadiationNmK / (nm * kelvin)); }

/// Mean power in a band, times a thermal ratio that stands for a filter: Planck(to) / Planck(from), none when they are equal.
double band_power(const std::array<Component, 6>& band, double kelvin, double filter_from, double filter_to) {
    double sum = 0;
    for (const Component& c : band) {
        const double power = kelvin < kDaylightFromKelvin ? planck(c.nm, kelvin) : daylight(c, kelvin);
        sum += power * planck(c.nm, filter_to) / planck(c.nm, filter_from);
    }
    return sum / static_cast<double>(band.size());
}

Rgb<double> light_through(Kelvin temperature, double filter_mired) {
    const double kelvin = std::clamp(std::isfinite(temperature.value()) ? temperature.value() : 5500.0, kLeastKelvin, kMostKelvin);
    const double shift = std::isfinite(filter_mired) ? filter_mired : 0.0;
    const double filtered = std::clamp(1e6 / std::max(1e6 / kelvin + shift, 1e6 / 1e5), kLeastKelvin, 1e5);
    const std::array<double, 3> band{band_power(kRedBand, kelvin, kelvin, filtered), band_power(kGreenBand, kelvin, kelvin, filtered),
                                     band_power(kBlueBand, kelvin, kelvin, filtered)};
    return {band[0] / band[1], 1.0, band[2] / band[1]};
}

}  // namespace

Rgb<double> layer_light(Kelvin temperature) { return light_through(temperature, 0); }

Rgb<LogExposure> layer_offsets(Kelvin stock, Kelvin light, double filter_mired) {
    const Rgb<double> given = light_through(light, filter_mired), wanted = light_through(stock, 0);
    std::array<double, 3> layer{};
    for (std::size_t i = 0; i < 3; ++i)
        for (std::size_t k = 0; k < 3; ++k) layer[i] += kLayerOverlap[i][k] * given[static_cast<int>(k)] / wanted[static_cast<int>(k)];
    Rgb<LogExposure> offset;
    for (int i = 0; i < 3; ++i) offset[i] = LogExposure(std::log10(layer[static_cast<std::size_t>(i)] / layer[1]));
    return offset;
}

}  // namespace basefog::film
