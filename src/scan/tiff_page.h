// SPDX-License-Identifier: GPL-3.0-or-later
// What a page of a TIFF says of itself, checked against the file before anything is allocated for its pixels.
#pragma once

#include "basefog/core/units.h"
#include "basefog/scan/options.h"
#include "scan/samples.h"
#include "scan/tiff_file.h"

#include <optional>
#include <string>
#include <vector>

namespace basefog::scan {

struct TiffPage {
    int index = 0;
    SampleLayout layout;    ///< stored
    bool separate = false;  ///< each sample in a plane of its own
    bool tiled = false;
    std::int64_t block_width = 0, block_height = 0;  ///< of a tile, or of a strip
    bool compressed = false;
    bool lossy = false;
    bool white_is_zero = false;
    bool fourth_is_alpha = false;  ///< the file calls its sample beyond the colours transparency
    int orientation = 1;
    std::optional<PixelsPerMm> resolution;
    std::string date;  ///< ISO 8601
    std::vector<unsigned char> profile;
    std::vector<std::string> warnings;
    [[nodiscard]] int colours() const { return layout.samples >= 3 ? 3 : 1; }
    [[nodiscard]] std::int64_t block_bytes() const { return block_width * block_height * layout.pixel_bytes(); }
};

/// The page the file is positioned at. Errors: unsupported, too_large, malformed.
[[nodiscard]] Result<TiffPage> read_page(TiffFile& file, int index, const ScanOptions& options);
/// Is the page marked as a reduced copy of another?
[[nodiscard]] bool is_thumbnail(const TiffFile& file);
/// "YYYY:MM:DD hh:mm:ss" as TIFF and Exif write it, to ISO 8601; empty when it is not that.
[[nodiscard]] std::string iso_date(const std::string& text);
/// Pixels per millimetre of a resolution along and across in dpi; nullopt when it cannot be that of a film scan.
[[nodiscard]] std::optional<PixelsPerMm> plausible_resolution(double x_dpi, double y_dpi, std::vector<std::string>& warnings);

}  // namespace basefog::scan
