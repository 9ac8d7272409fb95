// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/film/speed.h"

#include <algorithm>
#include <cmath>
#include <optional>

namespace basefog {
namespace {

constexpr double kSpeedDensity = 0.15;                            // Defined [ISO5800, from memory]
constexpr double kSpotSideMm = 0.1, kApertureDiameterMm = 0.048;  // Defined: our spot; [ISO10505, from memory]
constexpr double kPi = 3.14159265358979323846;

/// log10 H at 0.15 above the first density; none when the curve is no curve or never gets there.
std::optional<double> speed_point(const SensitometricCurve& curve) {
    if (curve.size() < 2) return std::nullopt;
    const double wanted = curve.front().second.value() + kSpeedDensity;
    for (std::size_t i = 1; i < curve.size(); ++i) {
        const double h0 = curve[i - 1].first.value(), h1 = curve[i].first.value();
        const double d0 = curve[i - 1].second.value(), d1 = curve[i].second.value();
        if (!std::isfinite(h0) || !std::isfinite(h1) || !std::isfinite(d0) || !std::isfinite(d1) || h1 <= h0) return std::nullopt;
        if (d0 < wanted && d1 >= wanted) return h0 + (h1 - h0) * (wanted - d0) / (d1 - d0);
    }
    return std::nullopt;
}

}  // namespace

Result<double> iso5800_speed(const Rgb<SensitometricCurve>& curves) {
    Rgb<double> h;
    for (int i = 0; i < 3; ++i) {
        const auto point = speed_point(curves[i]);
        if (!point) return fail(ErrorCode::usage, "a curve has no speed point: it needs increasing exposures and a density 0.15 above its first");
        h[i] = *point;
    }
    const double log_h = 0.5 * (h.g + std::max({h.r, h.g, h.b}));
    return std::sqrt(2.0) / std::pow(10.0, log_h);
}

double rms_granularity(double spot_noise) {
    const double aperture_mm2 = kPi * kApertureDiameterMm * kApertureDiameterMm / 4;
    return 1000 * spot_noise * kSpotSideMm / std::sqrt(aperture_mm2);
}

}  // namespace basefog
