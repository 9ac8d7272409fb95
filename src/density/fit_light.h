// SPDX-License-Identifier: GPL-3.0-or-later
// The smooth field of bare light through the cells' levels, with the covariance of its terms.
#pragma once

#include "basefog/density/options.h"
#include "basefog/density/types.h"
#include "density/cells.h"

#include <Eigen/Core>

namespace basefog::density {

using Terms = Eigen::Matrix<double, LightField::kTerms, 1>;
using TermsCovariance = Eigen::Matrix<double, LightField::kTerms, LightField::kTerms>;
[[nodiscard]] Terms terms_at(double u, double v);

/// What the field is fitted to: bare light, and each strip's own clear film, which knows the field's shape but not its level.
struct LightEvidence {
    std::vector<LightCell> bare;
    std::vector<std::vector<LightCell>> clear;  ///< per strip
    Channels pixel_noise{};                     ///< relative
    bool has_infrared = false;
    double trim = 0;  ///< share of bare cells dropped at the dark side
};

struct FittedLight {
    std::array<Terms, 4> coefficient{};
    std::array<TermsCovariance, 4> covariance{};
    std::array<double, 4> shared_std{};  ///< of ln light, common to all places: misfit that more cells do not cure
    std::int64_t n = 0;
    double residual_std = 0;
    bool shaped_by_film = false;
    bool from_bare_light = false;
    bool clipped = false;
    int reference_strip = -1;  ///< without bare light: the clearest

    /// Standard uncertainty of ln light averaged over the places whose mean terms are given.
    [[nodiscard]] double std_at(int channel, const Terms& mean_terms) const;
};

/// Works with any evidence, even none (then the field is one with a wide uncertainty).
[[nodiscard]] FittedLight fit_light(const LightEvidence& evidence);
/// A scan that was divided by a frame of the bare light: one everywhere.
[[nodiscard]] FittedLight known_light();

}  // namespace basefog::density
