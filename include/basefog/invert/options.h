// SPDX-License-Identifier: GPL-3.0-or-later
#pragma once

#include "basefog/core/result.h"
#include "basefog/core/units.h"

#include <string>

namespace basefog {

enum class Compression { none, lzw, deflate, zstd };
enum class OutputSpace {
    srgb,          ///< IEC 61966-2-1
    wide,          ///< wide-gamut RGB for editing: the ITU-R BT.2020 primaries, D65, gamma 2.2
    linear,        ///< sRGB primaries, linear
    profile_file,  ///< any RGB ICC profile
};

struct InvertOptions {
    OutputSpace output = OutputSpace::srgb;
    std::string profile_path;  ///< for OutputSpace::profile_file
    Compression compression = Compression::deflate;
    Stops exposure{0.0};    ///< brighter or darker than the roll's level
    double contrast = 1.0;  ///< multiplies the tone curve's slope at mid-grey
    Stops black_point{-7};  ///< from mid-grey: light there is shown at half, and what lies below runs into black
    double saturation = 1.0;
    int icc_version = 4;   ///< of the built-in profiles, 4 or 2
    bool linear = false;   ///< also scene-linear OpenEXR files
    bool density = false;  ///< also film densities, as ADX16 in TIFF
    int proof_long_side_px = 1200;
    int proof_quality = 90;  ///< JPEG, 1..100
};
[[nodiscard]] Result<void> validate(const InvertOptions& options);

}  // namespace basefog
