// SPDX-License-Identifier: GPL-3.0-or-later
// One strip of a TIFF compressed on its own, so that many can be at once: a TIFF file is written by one thread only.
#pragma once

#include "basefog/core/image.h"
#include "basefog/invert/options.h"

#include <tiffio.h>
#include <cstddef>
#include <vector>

namespace basefog::invert {

/// Sets what decides how strips are compressed, in any TIFF being written.
void set_compression(TIFF* tiff, Compression compression);

/// The bytes of `rows` rows as one strip of a picture so compressed; `pixels` are used up. Empty when the library fails.
[[nodiscard]] std::vector<std::byte> encode_strip(EncodedRgb16* pixels, std::int64_t width, std::int64_t rows, Compression compression);

}  // namespace basefog::invert
