// SPDX-License-Identifier: GPL-3.0-or-later
// A scan that hands out linear light by regions, never the whole file at once.
//
// Pixels are oriented as the file's orientation tag asks and linearised: by the embedded profile's own tone curves
// where it is a matrix profile (a density wants the sensor's own channels, unmixed), through lcms2 to linear light
// where it is a table, else by the stated encoding. Full scale is 1.
#pragma once

#include "basefog/core/for_each.h"
#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/observer.h"
#include "basefog/core/result.h"
#include "basefog/scan/options.h"
#include "basefog/scan/types.h"

#include <cstddef>
#include <memory>
#include <string>

namespace basefog {

/// Pixels as the file stores them, apart from the file: a third of the size of linear light, to be kept or put aside, and turned into it later.
/// Const; any number of threads.
class StoredFormat {
public:
    virtual ~StoredFormat() = default;
    [[nodiscard]] virtual std::int64_t pixel_bytes() const = 0;
    /// Rows of `where`, a part of the scan of out's size, lie close together in `stored`. Gives exactly what ScanReader::read_region gives there.
    virtual void linear(const std::byte* stored, PxRect where, View<LinearRgbi> out) const = 0;
};

class ScanReader {
public:
    virtual ~ScanReader() = default;
    [[nodiscard]] virtual const ScanInfo& info() const = 0;
    [[nodiscard]] virtual Access access() const = 0;
    /// Says, before anything is read, that no more than averages over factor x factor pixels will be looked at: a reader may then take its pixels from
    /// two by two each, where that is quicker.
    virtual void will_average(std::int64_t) {}
    /// What it may hold in memory of pictures whose libraries decode them only as a whole; a scan read by bands holds none.
    [[nodiscard]] virtual std::int64_t held_bytes() const { return 0; }
    /// Fills `out` with the pixels of `rect`, which must lie inside the image and have out's size.
    /// Errors: unreadable or malformed, with the row reached. One thread at a time per reader.
    [[nodiscard]] virtual Result<void> read_region(PxRect rect, View<LinearRgbi> out) = 0;
    /// What read_stored hands out; outlives the reader.
    [[nodiscard]] virtual std::shared_ptr<const StoredFormat> stored_format() const;
    /// As read_region, but as stored: rect's rows close together, each pixel of the format's size.
    [[nodiscard]] virtual Result<void> read_stored(PxRect rect, std::byte* out);
};

/// Bytes decoded from scans by this process so far, as samples in memory: tells how often a run decoded its scans.
[[nodiscard]] std::int64_t bytes_decoded();

/// Opens a TIFF, BigTIFF, PNG, JPEG or RAW file by its content, not its name. With ScanOptions::join the shots of a strip are handed out as one picture,
/// and are opened as the rows asked for reach them, two at a time.
/// Errors: not_found, unreadable, malformed, unsupported, too_large; each with a hint.
/// The observer is told while the reader works (a file spilled to disk) and must outlive it.
[[nodiscard]] Result<std::unique_ptr<ScanReader>> open_scan(const std::string& path, const ScanOptions& options, Observer& observer = silent_observer());

/// The shots of a strip, one by one, before lens and joining: the options' file and its further shots, exposures merged, divided by the light frame, which
/// is read but once. The observer must outlive it.
class StripShots {
public:
    virtual ~StripShots() = default;
    [[nodiscard]] virtual std::size_t count() const = 0;
    [[nodiscard]] virtual const std::string& path(std::size_t shot) const = 0;
    /// Errors: as open_scan; malformed where a shot is of another size than the first one opened.
    [[nodiscard]] virtual Result<std::unique_ptr<ScanReader>> open(std::size_t shot) = 0;
};
[[nodiscard]] std::unique_ptr<StripShots> strip_shots(const std::string& path, const ScanOptions& options, Observer& observer = silent_observer());

/// Whether a file's content begins as that of a scan does, damaged or not: TIFF, PNG and JPEG by their first bytes, RAW by what the camera's files
/// are known by. False for what cannot be opened.
[[nodiscard]] bool looks_like_scan(const std::string& path);

/// Scan pixels per overview pixel, each way.
[[nodiscard]] int overview_factor(const ScanInfo& info, const OverviewOptions& options);

/// Reads every row once, from the top, and averages by a whole factor. The result depends neither on band_rows nor on for_each.
[[nodiscard]] Result<Overview> read_overview(ScanReader& reader, const OverviewOptions& options, Observer& observer = silent_observer(),
                                             const ForEach& for_each = {});

}  // namespace basefog
