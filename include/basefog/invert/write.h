// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures to files: whole or absent, profile embedded.
#pragma once

#include "basefog/core/image.h"
#include "basefog/core/result.h"
#include "basefog/core/units.h"
#include "basefog/invert/options.h"
#include "basefog/invert/types.h"

#include <cstdint>
#include <functional>
#include <memory>
#include <string>
#include <type_traits>
#include <vector>

namespace basefog {

/// 16-bit RGB TIFF (BigTIFF when needed), profile embedded, resolution and metadata (EXIF, IPTC, XMP) written.
[[nodiscard]] Result<void> write_positive_tiff(const std::string& path, View<const EncodedRgb16> picture, const std::string& icc_bytes, Compression compression,
                                               PixelsPerMm resolution, const PhotoMetadata& metadata);
/// sRGB JPEG of an area-averaged reduction, sRGB profile and metadata embedded.
[[nodiscard]] Result<void> write_proof_jpeg(const std::string& path, View<const EncodedRgb8> picture, int quality, const PhotoMetadata& metadata,
                                            int icc_version = 4);
/// Fills the rows of a picture from `row0` on; called from the first row to the last, in portions of the writer's choice.
using FillLight = std::function<void(std::int64_t row0, View<SceneRgb> rows)>;
using FillDensity = std::function<void(std::int64_t row0, View<DensityRgbi> rows)>;
/// Scene-linear OpenEXR, half float, in ACES2065-1 [SMPTE2065-1]; `fill` gives linear sRGB primaries. Without compression it is an ACES image container
/// [SMPTE2065-4] and says so; any other choice compresses by ZIP. Holds a band of rows at a time.
[[nodiscard]] Result<void> write_linear_exr(const std::string& path, PositiveSize size, const FillLight& fill, Compression compression, PixelsPerMm resolution,
                                            const PhotoMetadata& metadata);
/// 16-bit RGB TIFF of densities above base as ADX16 [SMPTE2065-3]; no profile, as densities are no colours. Holds a band of rows at a time.
[[nodiscard]] Result<void> write_density_tiff(const std::string& path, PositiveSize size, const FillDensity& fill, Compression compression,
                                              PixelsPerMm resolution, const PhotoMetadata& metadata);
/// The same as bytes in memory, no metadata: for embedding in a report.
[[nodiscard]] Result<std::string> jpeg_bytes(View<const EncodedRgb8> picture, int quality);
/// Area-averaged in linear light to fit `long_side` pixels; never enlarged.
[[nodiscard]] Image<EncodedRgb8> reduce_srgb(View<const EncodedRgb8> picture, int long_side);
/// Turns a picture in an output profile into 8-bit sRGB (dithered with a fixed pattern, so that no banding shows).
[[nodiscard]] Result<Image<EncodedRgb8>> srgb8_from_positive(View<const EncodedRgb16> picture, const std::string& icc_bytes);
/// A proof: a positive in an output profile, area-averaged in linear light to fit `long_side` pixels, as 8-bit sRGB. What sRGB cannot hold is fitted
/// perceptually; dithered once, where 8 bits begin.
[[nodiscard]] Result<Image<EncodedRgb8>> proof_from_positive(View<const EncodedRgb16> picture, const std::string& icc_bytes, int long_side);
/// A page of a roll's frames in number order, with captions and a heading; sRGB.
[[nodiscard]] Image<EncodedRgb8> compose_contact_sheet(const std::string& heading, const std::vector<ContactItem>& items);
/// An 8-bit grey PNG of `width` x `height`, streamed by rows; `row(y, buffer)` fills one.
template <class FillRow>
[[nodiscard]] Result<void> write_grey_png(const std::string& path, std::int64_t width, std::int64_t height, FillRow&& row);
namespace detail {
[[nodiscard]] Result<void> write_grey_png_rows(const std::string& path, std::int64_t width, std::int64_t height, void* context,
                                               void (*fill)(void* context, std::int64_t y, std::uint8_t* row));
}
template <class FillRow>
Result<void> write_grey_png(const std::string& path, std::int64_t width, std::int64_t height, FillRow&& row) {
    using Row = std::remove_reference_t<FillRow>;
    void* const context = const_cast<void*>(static_cast<const void*>(std::addressof(row)));  // cast back to its own constness below
    return detail::write_grey_png_rows(path, width, height, context,
                                       [](void* it, std::int64_t y, std::uint8_t* buffer) { (*static_cast<Row*>(it))(y, buffer); });
}

}  // namespace basefog
