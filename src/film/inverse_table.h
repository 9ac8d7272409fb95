// SPDX-License-Identifier: GPL-3.0-or-later
// Curves tabulated both ways, for millions of spots: agrees with LayerCurve to 1e-4.
#pragma once

#include "basefog/film/types.h"

#include <vector>

namespace basefog::film {

class CurveTable {
public:
    explicit CurveTable(const LayerCurve& curve);
    [[nodiscard]] double exposure(double density) const { return look_up(exposure_, (density - low_density_) * density_scale_); }
    [[nodiscard]] double density(double exposure) const { return look_up(density_, (exposure - low_exposure_) * exposure_scale_); }
    [[nodiscard]] double lowest_exposure() const { return exposure_.front(); }

private:
    [[nodiscard]] static double look_up(const std::vector<double>& table, double at);
    std::vector<double> exposure_, density_;
    double low_density_ = 0, density_scale_ = 1, low_exposure_ = 0, exposure_scale_ = 1;
};

}  // namespace basefog::film
