// SPDX-License-Identifier: GPL-3.0-or-later
// A photographed 24-patch colour chart: found in its frame, its patches read.
#pragma once

#include "film/chart_values.h"
#include "film/pictures.h"

#include <optional>

namespace basefog::film {

struct ChartReading {
    std::size_t roll = 0, frame = 0;
    /// Density above base of each patch, in the published order; none where too few of its spots are usable.
    std::array<std::optional<Triple>, kPatches> density{};
    /// Centre of each patch on the grid of spots.
    std::array<std::array<double, 2>, kPatches> place{};
};

/// Linear light of each patch under a light it is balanced for: sRGB primaries, 1 for a perfect reflector.
[[nodiscard]] const std::array<Triple, kPatches>& chart_light();

/// Finds the chart anywhere in the frame, turned any way, seen at a slant; patches at least eight spots wide. None when no six by four lattice of even
/// patches is there whose densities rank as the chart's do.
[[nodiscard]] std::optional<ChartReading> read_chart(const FrameSamples& frame);

}  // namespace basefog::film
