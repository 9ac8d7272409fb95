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

/// A frame is worth a second wash from the area on that makes a strip "partial", or where its strip's veil does.
constexpr double kRewashAreaPercent = 2.0, kRewashVeil = 0.010;

struct FrameResidue {
    int number = 0;
    double area_percent = 0;
};

/// Where along the roll: a third of it that carries at least twice as much as the rest. Chosen: half as much again is chance.
std::string place_of(const std::vector<FrameResidue>& frames) {
    constexpr std::size_t kFewest = 6;
    constexpr double kTimes = 2, kWorthAWord = 0.5;
    if (frames.size() < kFewest) return {};
    std::array<double, 3> sum{}, n{};
    for (std::size_t i = 0; i < frames.size(); ++i) {
        const std::size_t third = std::min<std::size_t>(2, 3 * i / frames.size());
        sum[third] += frames[i].area_percent;
        n[third] += 1;
    }
    constexpr std::array<const char*, 3> kWords{"at the start of the roll", "in the middle of the roll", "at the end of the roll"};
    for (std::size_t t = 0; t < 3; ++t) {
        const double here = sum[t] / n[t], rest = (sum[0] + sum[1] + sum[2] - sum[t]) / (n[0] + n[1] + n[2] - n[t]);
        if (here > kWorthAWord && here > kTimes * rest) return kWords[t];
    }
    return {};
}

void place_residue(RollRecord& record, std::vector<FrameResidue> frames) {
    std::stable_sort(frames.begin(), frames.end(), [](const FrameResidue& a, const FrameResidue& b) { return a.number < b.number; });
    record.residue_place = record.worst_residue == ResidueGrade::clean ? std::string() : place_of(frames);
}

}  // namespace

void pool_strips(RollRecord& record, const std::vector<StripRef>& strips, const std::vector<MeasuredSheet>& sheets) {
    std::array<std::vector<Measured<Density>>, 3> base;
    std::array<double, 3> variance{};
    int silver = 0;
    double area = 0, film = 0;
    std::vector<FrameResidue> frames;
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
        const bool veiled = strip.residue.veil_separable && strip.residue.veil.value.value() >= kRewashVeil;
        for (const FrameRecord& frame : strip.frames) {
            frames.push_back({frame.number, frame.residue_area_percent});
            if (strip.residue.grade >= ResidueGrade::partial && (veiled || frame.residue_area_percent > kRewashAreaPercent))
                record.rewash_frames.push_back(frame.number);
        }
        record.worst_residue = std::max(record.worst_residue, strip.residue.grade);
    }
    for (int c = 0; c < 3; ++c) {
        record.base[c] = pool(base[static_cast<std::size_t>(c)]);
        record.spot_noise[c] = std::sqrt(variance[static_cast<std::size_t>(c)] / static_cast<double>(std::max<std::size_t>(1, strips.size())));
    }
    record.mask_srgb = colour_on_light_table(record.base);
    record.silver_image = record.facts.black_and_white_told || 2 * silver > static_cast<int>(strips.size());
    record.residue_area_percent = film > 0 ? area / film : 0;
    std::sort(record.rewash_frames.begin(), record.rewash_frames.end());
    place_residue(record, std::move(frames));
}

}  // namespace basefog::pipeline
