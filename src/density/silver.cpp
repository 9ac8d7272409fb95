// SPDX-License-Identifier: GPL-3.0-or-later
#include "density/constants.h"
#include "density/strip_base.h"

#include <cmath>

namespace basefog::density {

namespace {

/// Picture pixels at least this far above base say something about colour.
constexpr double kTellingDensity = 0.15;
constexpr std::size_t kLeastPixels = 200;
/// Base spread below which a strip without pictures is taken for black-and-white.
constexpr double kPlainBase = 0.05;
/// Share of the picture that must be neutral; the rest may be dust, stains or glare.
constexpr double kNeutralPart = 0.9;

}  // namespace

bool is_silver(const Image<DensityRgbi>& density, const RegionMap& regions, int strip, const RawBase& base, bool relative) {
    const double spread = std::abs(base.value[2] - base.value[0]);
    if (!relative && spread > kNoMask) return false;
    std::vector<double> off_neutral;
    for (std::int64_t y = 0; y < density.height(); y += 2) {
        for (std::int64_t x = 0; x < density.width(); x += 2) {
            if (regions.strip(x, y) != strip) continue;
            const Region region = regions.labels(x, y);
            if (region != Region::picture && region != Region::fogged) continue;
            const DensityRgbi& d = density(x, y);
            const double r = d.r - base.value[0], g = d.g - base.value[1], b = d.b - base.value[2], mean = (r + g + b) / 3;
            if (mean > kTellingDensity) off_neutral.push_back(std::max({std::abs(b - r), std::abs(g - r), std::abs(b - g)}) / mean);
        }
    }
    if (off_neutral.size() < kLeastPixels) return !relative && base.measured && spread < kPlainBase;
    return quantile(off_neutral, kNeutralPart) < 2 * kNeutralShare && quantile(off_neutral, 0.5) < kNeutralShare;
}

}  // namespace basefog::density
