// SPDX-License-Identifier: GPL-3.0-or-later
// PNG and JPEG headers, read and checked here before a library decodes (and allocates) anything. The walk goes to the
// end of the file, since the decoders fill the missing part of a cut-off file with grey instead of failing.
#pragma once

#include "basefog/scan/types.h"
#include "scan/input_file.h"

#include <optional>
#include <vector>

namespace basefog::scan {

struct PictureHeader {
    std::int64_t width = 0, height = 0;  ///< stored
    int bits = 8;
    int colours = 3;
    int orientation = 1;
    bool out_of_order = false;         ///< interlaced or progressive: no row is whole before the last
    double x_dpi = 0, y_dpi = 0;       ///< 0: not given
    std::optional<Encoding> encoding;  ///< as the file states it
    std::string date;                  ///< ISO 8601
    std::vector<unsigned char> profile;
    bool unread_profile = false;  ///< it has a profile that is not read
};

/// [PNG: ISO/IEC 15948]. Errors: malformed (with what is damaged), unreadable.
[[nodiscard]] Result<PictureHeader> read_png_header(const InputFile& file);
/// [JPEG: ITU-T T.81; JFIF: ITU-T T.871]. Errors: malformed, unreadable, unsupported.
[[nodiscard]] Result<PictureHeader> read_jpeg_header(const InputFile& file);

}  // namespace basefog::scan
