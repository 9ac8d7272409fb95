// SPDX-License-Identifier: GPL-3.0-or-later
// Fills holes from their surroundings, grain and edges included.
#pragma once

#include "basefog/mend/mend.h"
#include "mend/patches.h"
#include "mend/runs.h"
#include "mend/tiles.h"

#include <opencv2/core.hpp>

#include <functional>
#include <vector>

namespace basefog::mending {

struct FillSettings {
    LinearRgbi flare;  ///< taken off before the log is taken
    double px_per_mm = 1;
};
/// Makes a mask of part's size, CV_8U.
using Marks = std::function<Result<void>(const cv::Rect& part, cv::Mat& mask)>;

struct Filled {
    int holes = 0;
    std::vector<std::vector<Patch>> patches;  ///< by tile, each by rows
};
/// Each hole (8-connected pixels of `hole`) gets the pixels of a nearby place whose rim matches its own, shifted in level so that the
/// rims meet. Sources are neither holes nor in `doubtful`. Errors: the source's and the marks'.
[[nodiscard]] Result<Filled> fill_holes(const PixelSource& source, const Tiles& tiles, const Runs& hole, const Marks& doubtful, const FillSettings& settings,
                                        const MendMeans& means);

}  // namespace basefog::mending
