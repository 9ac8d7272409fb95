// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/invert/balance.h"

#include "invert/constants.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <vector>

namespace basefog {
namespace {

using Three = std::array<double, 3>;
double median(std::vector<double> values) {
    const auto middle = values.begin() + static_cast<std::ptrdiff_t>(values.size() / 2);
    std::nth_element(values.begin(), middle, values.end());
    return *middle;
}

/// The layers' log10 exposures at the usable spots of a part of a frame; only where all three layers hold dye.
std::vector<Three> exposures(const FilmModel& model, const FrameSamples& frame, BalanceChoice::Patch part) {
    std::vector<Three> all;
    const auto width = static_cast<double>(frame.above_base.width()), height = static_cast<double>(frame.above_base.height());
    for (std::int64_t y = 0; y < frame.above_base.height(); ++y)
        for (std::int64_t x = 0; x < frame.above_base.width(); ++x) {
            const double u = (double(x) + 0.5) / width, v = (double(y) + 0.5) / height;
            if (u < part.left || u > part.right || v < part.top || v > part.bottom || frame.usable(x, y) == 0) continue;
            const DensityRgbi& d = frame.above_base(x, y);
            Three h{};
            bool told = true;
            for (int l = 0; l < 3; ++l) {
                const auto& row = model.dye_from_channel[static_cast<std::size_t>(l)];
                const double dye = row[0] * double(d.r) + row[1] * double(d.g) + row[2] * double(d.b);
                told = told && dye > invert::kLeastDye;
                h[static_cast<std::size_t>(l)] = model.curves[l].exposure(Density(dye)).value();
            }
            if (told) all.push_back(h);
        }
    return all;
}

Rgb<LogExposure> centred(const Three& h) {
    const double mean = (h[0] + h[1] + h[2]) / 3;
    return {LogExposure(h[0] - mean), LogExposure(h[1] - mean), LogExposure(h[2] - mean)};
}

Three medians(const std::vector<Three>& all) {
    Three out{};
    for (std::size_t l = 0; l < 3; ++l) {
        std::vector<double> values;
        for (const Three& h : all) values.push_back(h[l]);
        out[l] = median(std::move(values));
    }
    return out;
}

}  // namespace

std::optional<Rgb<LogExposure>> balance_of_patch(const FilmModel& model, const FrameSamples& frame, BalanceChoice::Patch patch) {
    const std::vector<Three> all = exposures(model, frame, patch);
    if (all.empty()) return std::nullopt;
    return centred(medians(all));
}

std::optional<Rgb<LogExposure>> balance_of_picture(const FilmModel& model, const FrameSamples& frame) {
    std::vector<Three> colours = exposures(model, frame, {});
    if (colours.empty()) return std::nullopt;
    for (Three& h : colours) {
        const double mean = (h[0] + h[1] + h[2]) / 3;
        for (double& value : h) value -= mean;
    }
    Three centre = medians(colours);
    for (int round = 0; round < invert::kBalanceRounds; ++round) {
        Three sum{};
        double weights = 0;
        for (const Three& h : colours) {
            double square = 0;
            for (std::size_t l = 0; l < 3; ++l) square += (h[l] - centre[l]) * (h[l] - centre[l]);
            const double near = 1 - square / (invert::kBalanceReach * invert::kBalanceReach), weight = near > 0 ? near * near : 0;  // Tukey's biweight
            weights += weight;
            for (std::size_t l = 0; l < 3; ++l) sum[l] += weight * h[l];
        }
        if (!(weights > 0)) break;
        for (std::size_t l = 0; l < 3; ++l) centre[l] = sum[l] / weights;
    }
    return centred(centre);
}

}  // namespace basefog
