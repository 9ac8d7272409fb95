// SPDX-License-Identifier: GPL-3.0-or-later
// PhotoMetadata in the standard fields photo libraries show. Exiv2 knows the encodings. Private to the invert stage.
#pragma once

#include "basefog/core/result.h"
#include "basefog/invert/types.h"

#include <cstdint>
#include <string>
#include <vector>

namespace basefog::invert {

/// A date in EXIF's form "YYYY:MM:DD HH:MM:SS" (a date alone gets 00:00:00), or empty when `iso8601` is not one. [EXIF2.32]
[[nodiscard]] std::string exif_date(const std::string& iso8601);
/// The exposure index as EXIF's 16-bit speed; 0 when there is none or it does not fit.
[[nodiscard]] std::uint16_t exif_speed(const PhotoMetadata& metadata);
/// Valid UTF-8 without control characters: what is not becomes U+FFFD or a space.
[[nodiscard]] std::string clean_text(const std::string& text);

/// Blocks ready for a container. Empty when there is nothing to say.
struct MetadataBlocks {
    std::string xmp;   ///< an XMP packet
    std::string iptc;  ///< IPTC-IIM records, UTF-8
};
[[nodiscard]] Result<MetadataBlocks> encode_blocks(const PhotoMetadata& metadata);

/// A JPEG in memory with the profile and the metadata added.
[[nodiscard]] Result<std::string> add_to_jpeg(const std::string& jpeg, const std::string& icc_bytes, const PhotoMetadata& metadata);

}  // namespace basefog::invert
