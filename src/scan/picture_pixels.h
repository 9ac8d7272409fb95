// SPDX-License-Identifier: GPL-3.0-or-later
// PNG and JPEG pixels, row by row through libpng and libjpeg themselves: damage that other readers patch over and only mention on the terminal
// is an error here, and nothing is printed.
#pragma once

#include "scan/picture_header.h"

#include <cstddef>
#include <memory>
#include <string>
#include <vector>

namespace basefog::scan {

[[nodiscard]] inline std::int64_t row_bytes(const PictureHeader& header) { return header.width * header.colours * header.bits / 8; }

/// Rows from the top. Pixels that a file holds in another order (an interlaced PNG, a progressive JPEG) are held by the library as a whole.
class RowDecoder {
public:
    virtual ~RowDecoder() = default;
    /// Opens the file, or goes back to its top. Errors: malformed, unreadable.
    [[nodiscard]] virtual Result<void> begin() = 0;
    /// The next row: samples as stored, red first, in this machine's byte order, without transparency. After the last one the rest of the file is looked at,
    /// too. Errors: malformed, unreadable.
    [[nodiscard]] virtual Result<void> next(std::byte* row) = 0;
};
[[nodiscard]] std::unique_ptr<RowDecoder> png_rows(const std::string& path, const PictureHeader& header);
[[nodiscard]] std::unique_ptr<RowDecoder> jpeg_rows(const std::string& path, const PictureHeader& header);

}  // namespace basefog::scan
