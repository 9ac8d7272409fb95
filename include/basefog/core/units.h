// SPDX-License-Identifier: GPL-3.0-or-later
// Units as types: a density cannot be added to a transmittance, nor millimetres passed as pixels.
//
// Construction from a bare number is explicit and there is no way back but `.value()`, so every
// place where a unit is entered or left can be found by reading. Only operators that mean something
// physically exist. Inside a kernel that runs per pixel, plain float is allowed.
#pragma once

#include <cmath>
#include <compare>
#include <cstdint>

namespace basefog {

/// A number with a unit. `Tag` names the unit; `Rep` is the representation.
template <class Tag, class Rep = double>
class Quantity {
public:
    using rep = Rep;
    constexpr Quantity() = default;
    explicit constexpr Quantity(Rep value) : value_(value) {}
    [[nodiscard]] constexpr Rep value() const { return value_; }

    friend constexpr Quantity operator+(Quantity a, Quantity b) { return Quantity(a.value_ + b.value_); }
    friend constexpr Quantity operator-(Quantity a, Quantity b) { return Quantity(a.value_ - b.value_); }
    friend constexpr Quantity operator-(Quantity a) { return Quantity(-a.value_); }
    friend constexpr Quantity operator*(Quantity a, Rep k) { return Quantity(a.value_ * k); }
    friend constexpr Quantity operator*(Rep k, Quantity a) { return Quantity(k * a.value_); }
    friend constexpr Quantity operator/(Quantity a, Rep k) { return Quantity(a.value_ / k); }
    friend constexpr Rep operator/(Quantity a, Quantity b) { return a.value_ / b.value_; }
    friend constexpr auto operator<=>(Quantity, Quantity) = default;

private:
    Rep value_{};
};

namespace unit {
struct Density;
struct Stops;
struct LogExposure;
struct Millimetres;
struct PixelsPerMm;
struct Kelvin;
struct Celsius;
}  // namespace unit

/// Optical density, log10 units: D = -log10 T [ISO5-2].
using Density = Quantity<unit::Density>;
/// Exposure ratio in powers of two.
using Stops = Quantity<unit::Stops>;
/// Relative or absolute exposure, log10 H.
using LogExposure = Quantity<unit::LogExposure>;
using Millimetres = Quantity<unit::Millimetres>;
using PixelsPerMm = Quantity<unit::PixelsPerMm>;
using Kelvin = Quantity<unit::Kelvin>;
using Celsius = Quantity<unit::Celsius>;

/// Transmittance T = transmitted / incident flux, 0..1 for a real sample (noise may step outside).
/// Not a Quantity: two transmittances multiply (stacked layers) but do not add.
class Transmittance {
public:
    constexpr Transmittance() = default;
    explicit constexpr Transmittance(double value) : value_(value) {}
    [[nodiscard]] constexpr double value() const { return value_; }
    friend constexpr Transmittance operator*(Transmittance a, Transmittance b) { return Transmittance(a.value_ * b.value_); }
    friend constexpr auto operator<=>(Transmittance, Transmittance) = default;

private:
    double value_ = 1.0;
};

/// The largest density the program reports; darker samples are clamped to it. Chosen: beyond what
/// flatbed and camera scans of film resolve (about 3.5 to 4), and far from float trouble.
inline constexpr double kMaxDensity = 5.0;

/// D = -log10 T [ISO5-2]. T <= 10^-kMaxDensity (0, negative noise, NaN) gives kMaxDensity.
[[nodiscard]] inline Density to_density(Transmittance t) {
    const double floor = 1e-5;
    return Density(t.value() > floor ? -std::log10(t.value()) : kMaxDensity);
}
[[nodiscard]] inline Transmittance to_transmittance(Density d) { return Transmittance(std::pow(10.0, -d.value())); }

/// log10 2: one stop in log10 exposure. Defined.
inline constexpr double kLog10Of2 = 0.30102999566398119521;
[[nodiscard]] constexpr Stops to_stops(LogExposure h) { return Stops(h.value() / kLog10Of2); }
[[nodiscard]] constexpr LogExposure to_log_exposure(Stops s) { return LogExposure(s.value() * kLog10Of2); }

/// Millimetres in an inch. Defined (exact).
inline constexpr double kMmPerInch = 25.4;
[[nodiscard]] constexpr PixelsPerMm px_per_mm_from_dpi(double dpi) { return PixelsPerMm(dpi / kMmPerInch); }
[[nodiscard]] constexpr double dpi_from_px_per_mm(PixelsPerMm r) { return r.value() * kMmPerInch; }
[[nodiscard]] constexpr double to_px(Millimetres mm, PixelsPerMm r) { return mm.value() * r.value(); }
[[nodiscard]] constexpr Millimetres to_mm(double px, PixelsPerMm r) { return Millimetres(px / r.value()); }

/// Three values, one for each of a scanner's channels or a film's layers, always in the order red, green, blue
/// (for layers: the red-sensitive, which forms cyan dye, first).
template <class T>
struct Rgb {
    T r{}, g{}, b{};
    [[nodiscard]] constexpr T& operator[](int i) { return i == 0 ? r : i == 1 ? g : b; }
    [[nodiscard]] constexpr const T& operator[](int i) const { return i == 0 ? r : i == 1 ? g : b; }
    friend constexpr bool operator==(const Rgb&, const Rgb&) = default;
};

}  // namespace basefog
