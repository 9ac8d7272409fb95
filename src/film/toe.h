// SPDX-License-Identifier: GPL-3.0-or-later
// How softly the curves leave the fog: from scenes taken twice, dark parts of the one lying on the straight line of the other, and from wedges.
#pragma once

#include "film/kinship.h"
#include "film/layers.h"
#include "film/wedge.h"

#include <span>
#include <vector>

namespace basefog::film {

/// A place near the foot of the curve: its height above the toe as known from elsewhere, and the dye there.
struct ToePoint {
    std::size_t roll = 0;
    int layer = 0;
    double height = 0;  ///< log10 H
    double dye = 0;
    int group = 0;  ///< points that share what their heights may be off
};
[[nodiscard]] std::vector<ToePoint> toe_points(const std::vector<Picture>& pictures, const std::vector<LayerPicture>& layers, const Scenes& scenes,
                                               const Targets& targets, std::span<const FilmModel> models, std::span<const RollSamples> rolls);

/// A toe's width for the rolls of a stock, in its layers alike.
struct ToeFit {
    double width = 0, std = 0;  ///< relative std
    int n = 0;                  ///< points
};
/// From the points of the rolls named; the assumed width where they are few. `noise`: of each roll's base.
[[nodiscard]] ToeFit fit_toe(const std::vector<ToePoint>& points, const std::vector<char>& of_stock, double assumed, std::span<const FilmModel> models,
                             std::span<const RollSamples> rolls);

}  // namespace basefog::film
