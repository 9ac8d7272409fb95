// SPDX-License-Identifier: GPL-3.0-or-later
#include "film/unmix.h"

#include <Eigen/LU>

namespace basefog::film {

Matrix3 inverse(const Matrix3& m) {
    Eigen::Matrix3d a;
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) a(i, j) = m[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)];
    const Eigen::Matrix3d b = a.inverse();
    Matrix3 out{};
    for (int i = 0; i < 3; ++i)
        for (int j = 0; j < 3; ++j) out[static_cast<std::size_t>(i)][static_cast<std::size_t>(j)] = b(i, j);
    return out;
}

Matrix3 channel_from_dye(const Mix& neutral_share, const Rgb<LayerCurve>& curves) {
    Matrix3 mix{};
    for (int c = 0; c < 3; ++c)
        for (int l = 0; l < 3; ++l)
            mix[static_cast<std::size_t>(c)][static_cast<std::size_t>(l)] =
                neutral_share[static_cast<std::size_t>(c)][static_cast<std::size_t>(l)] * curves[c].slope / curves[l].slope;
    return mix;
}

Matrix3 scene_from_layer() { return inverse(kLayerOverlap); }

}  // namespace basefog::film
