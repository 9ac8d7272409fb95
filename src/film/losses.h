// SPDX-License-Identifier: GPL-3.0-or-later
// Shares of a picture that cannot be told from base, or lie where the film's steps vanish.
#pragma once

#include "basefog/film/options.h"
#include "basefog/film/types.h"
#include "film/grain.h"
#include "film/layers.h"

#include <utility>
#include <vector>

namespace basefog::film {

/// One of a frame's spots, thinned, or one of several possibilities for a weak one.
struct Spot {
    Triple exposure{};  ///< of the layers
    /// Signal measured over the signal of those exposures: not 1 where a layer's dye came out negative and was taken for none.
    double gain = 1;
    double share = 1;   ///< of a spot
    double spread = 0;  ///< log10 H, one sigma: detail finer than the spot
};
using SpotExposures = std::vector<Spot>;

class LossMeter {
public:
    LossMeter(const FilmModel& model, const Rgb<Measured<Density>>& base, const std::vector<GrainPoint>& grain, const FilmOptions& options);
    [[nodiscard]] SpotExposures spots(const FrameSamples& frame) const;
    /// Percent of the spots lost at either end, had all of them got `stops` more exposure.
    [[nodiscard]] WhatIf at(const SpotExposures& spots, Stops stops) const;
    /// The exposures (log10 H, balance taken off) that 2 % of the spots lie under, and 2 % over.
    [[nodiscard]] std::pair<LogExposure, LogExposure> range(const SpotExposures& spots) const;
    /// Between which exposures a neutral grey is told from base, and a step from none.
    [[nodiscard]] ExposureLimits limits() const;

private:
    [[nodiscard]] Triple exposures(const Triple& density) const;
    [[nodiscard]] Spot spot(const Triple& density, double signal, double share) const;
    /// A spot well above the noise, with the detail its neighbours suggest within it.
    [[nodiscard]] Spot strong_spot(const FrameSamples& frame, std::int64_t x, std::int64_t y, double measured) const;
    /// Signal of an area whose exposures scatter by `spread`: its light, not its density, is what adds up.
    [[nodiscard]] double area_signal(const Triple& exposure, double spread) const;
    /// Of the darkest exposure that area_signal takes in: it is no less than this.
    [[nodiscard]] double least_signal(const Triple& exposure, double spread) const;
    void add_weak(SpotExposures& out, const Triple& around, double mean, double variance, double measured) const;
    [[nodiscard]] double signal(const Triple& density) const;
    [[nodiscard]] Triple channel_density(const Triple& exposure) const;
    [[nodiscard]] double expected_signal(const Triple& exposure) const { return signal(channel_density(exposure)); }
    [[nodiscard]] bool highlight_lost(const Triple& exposure) const;
    FilmModel model_;
    Matrix3 channel_from_dye_;
    std::array<CurveTable, 3> curves_;
    std::array<NoiseCurve, 3> noise_;
    Triple weight_{};  ///< of the channels' densities in `signal`, which has a sigma of 1 at base
    double sigma_ = 2;
};

}  // namespace basefog::film
