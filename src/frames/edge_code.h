// SPDX-License-Identifier: GPL-3.0-or-later
// Reads the machine-readable key numbers of motion-picture negative: Code 128 symbols along one edge [ISO12222, SMPTE254: scope].
#pragma once

#include <opencv2/core.hpp>
#include <optional>
#include <string>

namespace basefog::frames {

struct EdgeCode {
    std::string text;        ///< printable characters only
    bool backwards = false;  ///< begins at the band's right end
};

/// The first symbol (from the left) with a correct check character. `band`: CV_32F density above base of one edge, bars upright.
[[nodiscard]] std::optional<EdgeCode> read_edge_code(const cv::Mat& band);

}  // namespace basefog::frames
