// SPDX-License-Identifier: GPL-3.0-or-later
// What photographed colour charts say of a stock: how its dyes mix in the scanner's channels, how its layers overlap, how steep it is.
#pragma once

#include "film/chart.h"
#include "film/unmix.h"

#include <optional>
#include <span>
#include <string>
#include <vector>

namespace basefog::film {

struct ChartFit {
    Mix share = kNeutralShare;    ///< as ShareFit has it
    Matrix3 scene_from_layer{};   ///< rows sum to 1
    std::vector<double> stretch;  ///< of each chart: true exposure is (1 + stretch) times what the slopes assumed say
    std::vector<double> stretch_std;
    double residual = 0;  ///< robust mean CIE94 difference of the patches, L* left out
};

/// All charts of a stock together; share and overlap are common, each chart has its own light, level, unevenness and veil. `models`: of each roll.
/// `prior`: the mixing found without charts. None without a chart with enough patches on the curves.
[[nodiscard]] std::optional<ChartFit> fit_charts(std::span<const ChartReading> charts, std::span<const FilmModel> models, const ShareFit& prior,
                                                 const Matrix3& scene_prior);

}  // namespace basefog::film
