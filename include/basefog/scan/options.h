// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"
#include "basefog/scan/types.h"

#include <optional>
#include <string>
#include <vector>

namespace basefog {

/// Another shot of a strip, and those taken of the same with other exposures.
struct ShotFiles {
    std::string path;
    std::vector<std::string> other_exposures;
    friend bool operator==(const ShotFiles&, const ShotFiles&) = default;
};

struct ScanOptions {
    std::optional<Encoding> encoding;  ///< overrides the file's own profile; nullopt: profile, else linear for 16 bits and float, sRGB for 8
    std::optional<double> dpi;         ///< overrides the file's resolution
    std::string infrared_path;         ///< a second file holding infrared; empty: fourth sample or second page, if any
    bool ignore_infrared = false;
    std::optional<int> orientation;  ///< tag 1 to 8 to obey in place of the file's own
    /// A shot of the bare light by the same camera with the same settings: every pixel is divided by it. Empty: not so.
    std::string light_frame_path;
    std::string dark_frame_path;                    ///< a shot with the lens capped, taken off both; goes with a light frame
    std::vector<std::string> other_exposures;       ///< shots of the same film, camera and film untouched, exposed otherwise: merged in linear light
    std::optional<LensModel> lens;                  ///< is undone
    std::vector<ShotFiles> further_shots;           ///< of the same strip, one after the other along it, each overlapping the one before
    std::optional<StripJoin> join;                  ///< how the shots lie; with further shots there must be one, and without any it turns and cuts the one
    std::int64_t max_pixels = 2'000'000'000;        ///< refuse larger images before allocating anything
    std::int64_t memory_bytes = 256 * 1024 * 1024;  ///< decoded strips or tiles kept by a reader
    /// Regions will be asked for from the top, each row once: no more than a row of strips or tiles is kept.
    bool from_the_top = false;
    std::string spill_folder;  ///< where a scan that can only be read from the top is laid out once; empty: the system's
};
[[nodiscard]] Result<void> validate(const ScanOptions& options);

struct OverviewOptions {
    double target_dpi = 350;  ///< the overview is at or above this where the scan is (Chosen: a pixel of 0.07 mm sits under the 0.1 mm spot of the report)
    std::int64_t max_pixels = 20'000'000;  ///< coarser, if need be, to stay under this
    std::int64_t band_rows = 64;           ///< rows read at a time; does not change the result
};

/// Text of `--encoding`: "linear", "srgb" or a gamma number from 0.3 to 4.
[[nodiscard]] Result<Encoding> parse_encoding(const std::string& text);

}  // namespace basefog
