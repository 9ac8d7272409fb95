// SPDX-License-Identifier: GPL-3.0-or-later
#include "scan/tiff_nature.h"

#include "scan/constants.h"
#include "scan/tiff_page.h"

#include <tiffio.h>
#include <vector>

namespace basefog::scan {
namespace {

// Photometric interpretations of sensor data [DNG 1.4: 32803 from TIFF/EP, 34892].
constexpr std::uint16_t kMosaic = 32803, kLinearRaw = 34892;

bool is_sensor_page(TIFF* tiff) {
    std::uint16_t photometric = 0;
    return TIFFGetField(tiff, TIFFTAG_PHOTOMETRIC, &photometric) != 0 && (photometric == kMosaic || photometric == kLinearRaw);
}

/// Offsets of the pages below the current one, copied as they vanish with it.
std::vector<std::uint64_t> pages_below(TIFF* tiff) {
    std::uint16_t count = 0;
    std::uint64_t* offsets = nullptr;
    if (TIFFGetField(tiff, TIFFTAG_SUBIFD, &count, &offsets) == 0 || offsets == nullptr) return {};
    return {offsets, offsets + std::min<int>(count, kMostPages)};
}

}  // namespace

TiffNature examine(TiffFile& file) {
    TIFF* tiff = file.handle();
    TiffNature nature;
    const unsigned char* version = nullptr;
    const char *make = nullptr, *date = nullptr;
    nature.is_dng = TIFFGetField(tiff, TIFFTAG_DNGVERSION, &version) != 0;
    nature.names_camera = TIFFGetField(tiff, TIFFTAG_MAKE, &make) != 0;
    nature.begins_with_thumbnail = is_thumbnail(file);
    if (TIFFGetField(tiff, TIFFTAG_DATETIME, &date) != 0 && date != nullptr) nature.date = iso_date(date);

    const int pages = file.count_pages(kMostPages);
    for (int page = 0; page < pages && !nature.has_sensor_page; ++page) {
        if (!file.go_to_page(page)) break;
        nature.has_sensor_page = is_sensor_page(tiff);
        for (const std::uint64_t offset : pages_below(tiff))
            if (!nature.has_sensor_page && TIFFSetSubDirectory(tiff, offset) != 0) nature.has_sensor_page = is_sensor_page(tiff);
    }
    TIFFSetDirectory(tiff, 0);
    return nature;
}

}  // namespace basefog::scan
