// SPDX-License-Identifier: GPL-3.0-or-later
// The few tags of an Exif block that a scan needs.
#pragma once

#include <cstddef>
#include <optional>
#include <string>

namespace basefog::scan {

struct Exif {
    int orientation = 1;
    std::string date;  ///< as stored: "YYYY:MM:DD hh:mm:ss"
    std::optional<double> x_dpi, y_dpi;
};

/// Reads a TIFF-structured Exif block (after "Exif\0\0" in JPEG, the whole eXIf chunk in PNG) [CIPA DC-008].
/// What is damaged or missing keeps its default.
[[nodiscard]] Exif read_exif(const unsigned char* bytes, std::size_t count);

}  // namespace basefog::scan
