// SPDX-License-Identifier: GPL-3.0-or-later
// A sheet drawn twice, clean and dirty, the dirty one measured and its pictures mended.
#pragma once

#include "basefog/mend/options.h"
#include "basefog/mend/types.h"
#include "residue/drawn_sheet.h"

#include <opencv2/core.hpp>

#include <cstdint>
#include <vector>

namespace mend_pair {

struct MendedFrame {
    basefog::PxRect rect;
    cv::Mat clean, dirty, mended;  ///< CV_32FC3: density of the three channels, light and flare of the sheet taken out
    cv::Mat defect;                ///< CV_32F: true density of dust and backing, as blurred by the scanner
    cv::Mat mask;                  ///< CV_8U: values of Mended
    bool silver = false;
};

/// Every picture of the sheet that this seed draws.
[[nodiscard]] std::vector<MendedFrame> mended_pair(std::uint64_t seed, bool infrared, basefog::MendMode mode);
/// The pictures of a pair of sheets that differ in dirt only.
[[nodiscard]] std::vector<MendedFrame> mended_pair(const synthetic::SheetSpec& dirty, basefog::MendMode mode);

/// Mean absolute errors of density, over pixels and channels.
struct Tally {
    double sum_before = 0, sum_after = 0;
    std::int64_t inside = 0, outside = 0, changed_outside = 0;
    void add(const std::vector<MendedFrame>& frames);
    [[nodiscard]] double before() const { return inside > 0 ? sum_before / static_cast<double>(inside) : 0; }
    [[nodiscard]] double after() const { return inside > 0 ? sum_after / static_cast<double>(inside) : 0; }
};

/// Grain of mended places beside that of the sound film about each: squares of what a pixel differs by from the mean of its neighbours. Medians
/// over a place and over the places, as a few edges of a picture outweigh all grain in a mean.
struct Grain {
    std::vector<double> ratios;  ///< one per place and channel
    void add(const std::vector<MendedFrame>& frames, basefog::Mended kind);
    [[nodiscard]] double ratio() const;
};

/// Where a defect is dense enough to be seen, and where none is, not even its blurred skirt.
inline constexpr float kInside = 0.05F;

}  // namespace mend_pair
