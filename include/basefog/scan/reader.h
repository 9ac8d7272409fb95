// SPDX-License-Identifier: GPL-3.0-or-later
// A scan that hands out linear light by regions, never the whole file at once.
//
// Pixels are oriented as the file's orientation tag asks and linearised: by the embedded profile's own tone curves
// where it is a matrix profile (a density wants the sensor's own channels, unmixed), through lcms2 to linear light
// where it is a table, else by the stated encoding. Full scale is 1.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/observer.h"
#include "basefog/core/result.h"
#include "basefog/scan/options.h"
#include "basefog/scan/types.h"

#include <memory>
#include <string>

namespace basefog {

class ScanReader {
public:
    virtual ~ScanReader() = default;
    [[nodiscard]] virtual const ScanInfo& info() const = 0;
    [[nodiscard]] virtual Access access() const = 0;
    /// Fills `out` with the pixels of `rect`, which must lie inside the image and have out's size.
    /// Errors: unreadable or malformed, with the row reached. One thread at a time per reader.
    [[nodiscard]] virtual Result<void> read_region(PxRect rect, View<LinearRgbi> out) = 0;
};

/// Opens a TIFF, BigTIFF, PNG, JPEG or RAW file by its content, not its name.
/// Errors: not_found, unreadable, malformed, unsupported, too_large; each with a hint.
/// The observer is told while the reader works (a file spilled to disk) and must outlive it.
[[nodiscard]] Result<std::unique_ptr<ScanReader>> open_scan(const std::string& path, const ScanOptions& options, Observer& observer = silent_observer());

/// Reads every row once, from the top, and averages by a whole factor. The result does not depend on band_rows.
[[nodiscard]] Result<Overview> read_overview(ScanReader& reader, const OverviewOptions& options, Observer& observer = silent_observer());

}  // namespace basefog
