// SPDX-License-Identifier: GPL-3.0-or-later
#include "pool_strips.h"

#include "basefog/invert/colour.h"

#include <algorithm>
#include <array>
#include <cmath>

namespace basefog::pipeline {
namespace {

/// Inverse-variance mean of the strips' bases; the spread between strips widens the uncertainty where it exceeds what they claim.
Measured<Density> pool(const std::vector<Measured<Density>>& parts) {
    double weights = 0, sum = 0;
    std::int64_t n = 0;
    MeasureFlag flags = MeasureFlag::none;
    for (const Measured<Density>& part : parts) {
        const double w = 1 / std::max(1e-8, part.std_uncertainty.value() * part.std_uncertainty.value());
        weights += w;
        sum += w * part.value.value();
        n += part.n;
        flags = flags | part.flags;
    }
    if (weights <= 0) return {};
    const double mean = sum / weights;
    double chi2 = 0;
    for (const Measured<Density>& part : parts) {
        const double s = std::max(1e-4, part.std_uncertainty.value());
        chi2 += (part.value.value() - mean) * (part.value.value() - mean) / (s * s);
    }
    const double dof = static_cast<double>(parts.size()) - 1;
    const double widen = dof > 0 ? std::max(1.0, std::sqrt(chi2 / dof)) : 1.0;
    return {Density(mean), Density(widen / std::sqrt(weights)), n, flags};
}

/// The channels' transmittances taken for linear sRGB, the bare table being white.
std::array<std::uint8_t, 3> colour_on_light_table(const Rgb<Measured<Density>>& base) {
    std::array<std::uint8_t, 3> out{};
    for (int c = 0; c < 3; ++c) {
        const double d = std::isfinite(base[c].value.value()) ? base[c].value.value() : kMaxDensity;
        out[static_cast<std::size_t>(c)] = static_cast<std::uint8_t>(std::lround(255 * srgb_encode(std::clamp(std::pow(10.0, -d), 0.0, 1.0))));
    }
    return out;
}

}  // namespace

void pool_strips(RollRecord& record, const std::vector<StripRef>& strips, const std::vector<MeasuredSheet>& sheets) {
    std::array<std::vector<Measured<Density>>, 3> base;
    std::array<double, 3> variance{};
    int silver = 0;
    double area = 0, film = 0;
    for (const StripRef& ref : strips) {
        const StripRecord& strip = sheets[static_cast<std::size_t>(ref.sheet)].record.strips[static_cast<std::size_t>(ref.strip)];
        for (int c = 0; c < 3; ++c) {
            base[static_cast<std::size_t>(c)].push_back(strip.base.base[c]);
            variance[static_cast<std::size_t>(c)] += strip.base.noise[c] * strip.base.noise[c];
        }
        silver += strip.base.silver_image ? 1 : 0;
        const double length = std::max(1.0, distance(strip.box.corners[0], strip.box.corners[1]));
        area += strip.residue.area_percent.value * length;
        film += length;
        record.worst_residue = std::max(record.worst_residue, strip.residue.grade);
    }
    for (int c = 0; c < 3; ++c) {
        record.base[c] = pool(base[static_cast<std::size_t>(c)]);
        record.spot_noise[c] = std::sqrt(variance[static_cast<std::size_t>(c)] / static_cast<double>(std::max<std::size_t>(1, strips.size())));
    }
    record.mask_srgb = colour_on_light_table(record.base);
    record.silver_image = record.facts.black_and_white_told || 2 * silver > static_cast<int>(strips.size());
    record.residue_area_percent = film > 0 ? area / film : 0;
}

}  // namespace basefog::pipeline
