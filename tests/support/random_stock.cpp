// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/random_stock.h"

#include "support/status_density.h"
#include "support/synthetic_random.h"

#include <algorithm>
#include <cmath>

namespace synthetic {
namespace {

double about(Random& random, double relative) { return std::exp(relative * random.normal()); }

void vary(Spectrum& spectrum, Random& random, double nm, double width) {
    for (Lobe& lobe : spectrum.lobes) {
        const double wider = about(random, width);
        lobe.peak_nm += nm * random.normal();
        lobe.below_nm *= wider, lobe.above_nm *= wider;
    }
}

}  // namespace

double film_density(const FilmStock& stock, const Triple& dye, double nm) {
    double density = stock.support.at(nm);
    for (std::size_t l = 0; l < 3; ++l) density += dye[l] * stock.dyes[l].at(nm);
    for (const Coupler& coupler : stock.mask) density += coupler.colour.at(nm) * (1 - coupler.per_dye * dye[static_cast<std::size_t>(coupler.consumed_by)]);
    return density;
}

double status_m_slope(const FilmStock& stock) {
    constexpr double kLow = -0.3, kHigh = 0.7;
    const auto at = [&](double log_h) {
        Triple dye{};
        for (std::size_t l = 0; l < 3; ++l) dye[l] = stock.layers[l].fog + stock.layers[l].dye(log_h);
        return status_m([&](double nm) { return film_density(stock, dye, nm); });
    };
    const auto low = at(kLow), high = at(kHigh);
    return (high[0] + high[1] + high[2] - low[0] - low[1] - low[2]) / (kHigh - kLow) / 3;
}

RandomStock random_stock(std::uint64_t seed) {
    Random random(mix(seed, 0x570c));
    RandomStock out;
    const int kind = random.below(4);
    out.stock = kind == 0 ? daylight_50() : kind == 1 ? daylight_250() : kind == 2 ? tungsten_200() : tungsten_500();
    out.crossed = random.unit() < 0.7;
    out.expired = random.unit() < 0.5;
    if (out.crossed) out.stock = cross_processed(out.stock);
    if (out.expired) {
        const double years = random.between(0.4, 1.6);
        out.stock =
            aged(out.stock, {{0.06 * years, 0.10 * years, 0.16 * years}, {0.20 * years, 0.25 * years, 0.35 * years}, std::pow(0.95, years), 1 + 0.3 * years});
    }
    for (Layer& layer : out.stock.layers) {
        layer.gamma *= about(random, 0.03);
        layer.toe_log_h += 0.03 * random.normal();
        layer.toe_spread *= about(random, 0.15);
        layer.shoulder_spread *= about(random, 0.10);
        layer.latitude += 0.1 * random.normal();
    }
    for (Spectrum& dye : out.stock.dyes) vary(dye, random, 4, 0.07);
    for (Coupler& coupler : out.stock.mask) {
        vary(coupler.colour, random, 4, 0.07);
        coupler.per_dye *= about(random, 0.15);
    }
    // Straight lines of 0.55 (ADX [SMPTE2065-3]), a fifth more in stills chemistry (common practice, no source).
    constexpr double kOwnSlope = 0.55, kCrossedSlope = 0.66, kSpread = 0.06;
    const double wanted = (out.crossed ? kCrossedSlope : kOwnSlope) * about(random, kSpread), steeper = wanted / status_m_slope(out.stock);
    for (Layer& layer : out.stock.layers) layer.gamma *= steeper;
    for (Triple& row : out.stock.sensitivity) {
        const double cleaner = std::clamp(about(random, 0.4), 0.3, 2.0);
        const double most = *std::max_element(row.begin(), row.end());
        for (double& s : row) s = s == most ? 1 - cleaner * (1 - most) : cleaner * s;
    }
    return out;
}

Scanner random_scanner(std::uint64_t seed) {
    Random random(mix(seed, 0x5ca7));
    const int kind = random.below(3);
    Scanner out = kind == 0 ? lamp_flatbed() : kind == 1 ? diode_flatbed() : camera_stand();
    for (Spectrum& channel : out.channels) vary(channel, random, 4, 0.12);
    return out;
}

}  // namespace synthetic
