// SPDX-License-Identifier: GPL-3.0-or-later
// How a picture's densities are spread. Counting only: nothing here knows curves.
#pragma once

#include "basefog/report/types.h"

namespace basefog::pipeline {

/// Counts the usable spots of a frame by density above base, per channel. Spots outside the bins' range count in the outer bins; spots
/// that are not finite are left out. A frame without usable spots gives a histogram of none.
[[nodiscard]] DensityHistogram density_histogram(const FrameSamples& frame);

}  // namespace basefog::pipeline
