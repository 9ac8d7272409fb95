// SPDX-License-Identifier: GPL-3.0-or-later
#include "density/constants.h"
#include "density/strip_base.h"

#include <algorithm>
#include <cmath>

namespace basefog::density {

namespace {

/// Pixels within this of the base take part.
constexpr double kNearBase = 0.04;
/// Share of the pair differences kept, and the standard deviation of a Gaussian cut at that share.
constexpr double kKeptShare = 0.80, kKeptStd = 0.6616;

struct Side {
    Rgb<double> noise{};
    std::size_t pairs = 0;
};

/// Noise of squares of `side` pixels, from pairs two squares apart (neighbours share the lens blur).
Side noise_of_squares(const Image<DensityRgbi>& density, const RegionMap& regions, int strip, const RawBase& base, std::int64_t side) {
    std::array<std::vector<double>, 3> squared;
    const auto mean = [&](std::int64_t x0, std::int64_t y0, std::array<double, 3>& out) {
        out = {};
        for (std::int64_t y = y0; y < y0 + side; ++y) {
            for (std::int64_t x = x0; x < x0 + side; ++x) {
                const DensityRgbi& d = density(x, y);
                if (regions.strip(x, y) != strip || regions.labels(x, y) != Region::clear_film) return false;
                if (std::abs((d.r + d.g + d.b - base.value[0] - base.value[1] - base.value[2]) / 3) > kNearBase) return false;
                out[0] += d.r;
                out[1] += d.g;
                out[2] += d.b;
            }
        }
        for (double& v : out) v /= static_cast<double>(side * side);
        return true;
    };
    std::array<double, 3> a{}, b{};
    for (std::int64_t y = 0; y + side <= density.height(); y += side) {
        for (std::int64_t x = 0; x + 3 * side <= density.width(); x += side) {
            if (regions.strip(x, y) != strip || !mean(x, y, a) || !mean(x + 2 * side, y, b)) continue;
            for (std::size_t c = 0; c < 3; ++c) squared[c].push_back((a[c] - b[c]) * (a[c] - b[c]));
        }
    }
    Side result;
    result.pairs = squared[0].size();
    for (int c = 0; c < 3; ++c) {
        auto& values = squared[static_cast<std::size_t>(c)];
        const double cut = quantile(values, kKeptShare);
        double sum = 0, n = 0;
        for (const double v : values) {
            if (v > cut) continue;
            sum += v;
            ++n;
        }
        result.noise[c] = n > 0 ? std::sqrt(sum / n / 2) / kKeptStd : 0;
    }
    return result;
}

}  // namespace

Rgb<double> base_noise(const Image<DensityRgbi>& density, const RegionMap& regions, int strip, const RawBase& base, double spot_px) {
    const auto side = std::max<std::int64_t>(1, static_cast<std::int64_t>(spot_px));
    const Side small = noise_of_squares(density, regions, strip, base, side);
    const Side large = noise_of_squares(density, regions, strip, base, side + 1);
    Rgb<double> noise = small.noise;
    for (int c = 0; c < 3; ++c) {
        if (spot_px < 1) {
            noise[c] = small.noise[c] / spot_px;  // a spot finer than a pixel: white noise assumed
        } else if (large.pairs > 50 && large.noise[c] > 0 && small.noise[c] > 0) {
            const double s = static_cast<double>(side);
            const double slope = std::log(large.noise[c] / small.noise[c]) / std::log((s + 1) / s);
            noise[c] = small.noise[c] * std::pow(spot_px / s, slope);
        }
    }
    return noise;
}

}  // namespace basefog::density
