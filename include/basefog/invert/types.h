// SPDX-License-Identifier: GPL-3.0-or-later
// Positives: pixels, profile, metadata.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/units.h"

#include <cstdint>
#include <optional>
#include <string>
#include <vector>

namespace basefog {

/// Width and height of a positive, pixels.
struct PositiveSize {
    std::int64_t width = 0, height = 0;
    friend bool operator==(const PositiveSize&, const PositiveSize&) = default;
};

/// What is written into a positive so that photo libraries show it. Empty strings are left out.
struct PhotoMetadata {
    std::string title;        ///< "roll R1, frame 7"
    std::string description;  ///< stock, rating, session, bath in words
    std::string date;         ///< ISO 8601 date (of the session) or date-time of the scan
    std::string roll, stock, session, process;
    int frame_number = 0;
    std::optional<double> exposure_index;
    std::vector<std::string> keywords;
    std::string software;  ///< "basefog 0.1.0"
};

struct ContactItem {
    View<const EncodedRgb8> picture;
    std::string caption;
};

}  // namespace basefog
