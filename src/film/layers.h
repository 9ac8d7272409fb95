// SPDX-License-Identifier: GPL-3.0-or-later
// A picture as its layers' exposures, and which pictures show the same scene.
#pragma once

#include "film/inverse_table.h"
#include "film/pictures.h"

#include <vector>

namespace basefog::film {

/// The three layers' log10 H at each reduced spot, balance not taken off.
struct LayerPicture {
    std::size_t roll = 0;   ///< index among the rolls fitted together
    std::size_t frame = 0;  ///< index among the roll's frames
    std::int64_t width = 0, height = 0;
    std::vector<Triple> exposure;
    std::vector<char> usable;
};
[[nodiscard]] LayerPicture to_layers(const Picture& picture, const Matrix3& dye_from_channel, const std::array<CurveTable, 3>& curves);
[[nodiscard]] std::array<CurveTable, 3> tabulate(const Rgb<LayerCurve>& curves);

/// Two pictures of one scene at different exposures: the mean difference of each layer's exposure over parts where all are on the
/// straight line, and its standard error.
struct Bracket {
    std::size_t first = 0, second = 0;  ///< indices of pictures
    Triple difference{}, std_error{};
    double first_height = 0, second_height = 0;  ///< of those parts above the toe, green, log10 H
};
struct Scenes {
    std::vector<int> scene_of;  ///< for each picture, a number shared by pictures of one scene
    int count = 0;              ///< of scenes
    std::vector<double> share;  ///< 1 / number of pictures of its scene: its weight in a vote
    std::vector<Bracket> brackets;
};
[[nodiscard]] Scenes find_scenes(const std::vector<LayerPicture>& pictures);

}  // namespace basefog::film
