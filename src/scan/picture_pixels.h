// SPDX-License-Identifier: GPL-3.0-or-later
// PNG and JPEG pixels, decoded whole through libpng and libjpeg themselves: damage that other readers patch over and only mention on the terminal
// is an error here, and nothing is printed.
#pragma once

#include "scan/picture_header.h"

#include <cstddef>
#include <string>
#include <vector>

namespace basefog::scan {

/// Rows close together; samples as stored, red first, in this machine's byte order, without transparency.
using PicturePixels = std::vector<std::byte>;
[[nodiscard]] inline std::int64_t row_bytes(const PictureHeader& header) { return header.width * header.colours * header.bits / 8; }

/// Errors: malformed, unreadable.
[[nodiscard]] Result<PicturePixels> decode_png(const std::string& path, const PictureHeader& header);
[[nodiscard]] Result<PicturePixels> decode_jpeg(const std::string& path, const PictureHeader& header);

}  // namespace basefog::scan
