// SPDX-License-Identifier: GPL-3.0-or-later
// Many cameras' RAW files are built as TIFFs. What is a file that begins like one?
#pragma once

#include "scan/tiff_file.h"

namespace basefog::scan {

struct TiffNature {
    bool is_dng = false;           ///< marked as a digital negative
    bool has_sensor_page = false;  ///< a page, or a page below one, with a mosaic or linear sensor data
    bool begins_with_thumbnail = false;
    bool names_camera = false;
    std::string date;  ///< ISO 8601
};

/// Looks at headers only. Leaves the file at page 0.
[[nodiscard]] TiffNature examine(TiffFile& file);

}  // namespace basefog::scan
