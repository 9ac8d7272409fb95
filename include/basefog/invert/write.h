// SPDX-License-Identifier: GPL-3.0-or-later
// Pictures to files: whole or absent, profile embedded.
#pragma once

#include "basefog/core/for_each.h"
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

/// What a writer may use while it works.
struct WriteMeans {
    ForEach for_each;                                ///< rows are filled and compressed side by side; the bytes do not depend on it
    std::int64_t memory_bytes = 64LL * 1024 * 1024;  ///< rows held at a time; at least one strip
};
/// Fill the rows of a picture from `row0` on, in portions of the writer's choice. Those of densities and positives: any portion, from any threads; of light:
/// from the first row to the last. A failure ends the writing and is handed back.
using FillPositive = std::function<Result<void>(std::int64_t row0, View<EncodedRgb16> rows)>;
using FillDensity = std::function<Result<void>(std::int64_t row0, View<DensityRgbi> rows)>;
using FillLight = std::function<Result<void>(std::int64_t row0, View<SceneRgb> rows)>;

/// A proof, made while the rows of its positive go by: area-averaged in linear light to fit `long_side` pixels, as 8-bit sRGB. What sRGB cannot hold is
/// fitted perceptually; dithered once, where 8 bits begin.
class ProofMaker {
public:
    /// `icc_bytes`: the positive's profile. Errors: malformed.
    [[nodiscard]] static Result<ProofMaker> make(PositiveSize size, const std::string& icc_bytes, int long_side);
    ProofMaker(ProofMaker&&) noexcept;
    ProofMaker& operator=(ProofMaker&&) noexcept;
    ~ProofMaker();
    /// Numbers in a reduced row.
    [[nodiscard]] std::int64_t row_numbers() const;
    /// A row of the positive, averaged along itself. Any rows at once, from any threads.
    void reduce_row(const EncodedRgb16* row, float* reduced) const;
    /// Every reduced row once, from the first to the last.
    void add_row(const float* reduced);
    [[nodiscard]] Image<EncodedRgb8> finish();

private:
    struct Impl;
    explicit ProofMaker(std::unique_ptr<Impl> impl);
    std::unique_ptr<Impl> impl_;
};

/// 16-bit RGB TIFF (BigTIFF when needed), profile embedded, resolution and metadata (EXIF, IPTC, XMP) written. `proof`, where given, sees every row.
[[nodiscard]] Result<void> write_positive_tiff(const std::string& path, PositiveSize size, const FillPositive& fill, ProofMaker* proof,
                                               const std::string& icc_bytes, Compression compression, PixelsPerMm resolution, const PhotoMetadata& metadata,
                                               const WriteMeans& means = {});
/// The same of a picture in memory.
[[nodiscard]] Result<void> write_positive_tiff(const std::string& path, View<const EncodedRgb16> picture, const std::string& icc_bytes, Compression compression,
                                               PixelsPerMm resolution, const PhotoMetadata& metadata);
/// sRGB JPEG of an area-averaged reduction, sRGB profile and metadata embedded.
[[nodiscard]] Result<void> write_proof_jpeg(const std::string& path, View<const EncodedRgb8> picture, int quality, const PhotoMetadata& metadata,
                                            int icc_version = 4);
/// Scene-linear OpenEXR, half float, in ACES2065-1 [SMPTE2065-1]; `fill` gives linear sRGB primaries. Without compression it is an ACES image container
/// [SMPTE2065-4] and says so; any other choice compresses by ZIP. Holds a band of rows at a time.
[[nodiscard]] Result<void> write_linear_exr(const std::string& path, PositiveSize size, const FillLight& fill, Compression compression, PixelsPerMm resolution,
                                            const PhotoMetadata& metadata);
/// 16-bit RGB TIFF of densities above base as ADX16 [SMPTE2065-3]; no profile, as densities are no colours.
[[nodiscard]] Result<void> write_density_tiff(const std::string& path, PositiveSize size, const FillDensity& fill, Compression compression,
                                              PixelsPerMm resolution, const PhotoMetadata& metadata, const WriteMeans& means = {});
/// The same as bytes in memory, no metadata: for embedding in a report.
[[nodiscard]] Result<std::string> jpeg_bytes(View<const EncodedRgb8> picture, int quality);
/// Area-averaged in linear light to fit `long_side` pixels; never enlarged.
[[nodiscard]] Image<EncodedRgb8> reduce_srgb(View<const EncodedRgb8> picture, int long_side);
/// Turns a picture in an output profile into 8-bit sRGB (dithered with a fixed pattern, so that no banding shows).
[[nodiscard]] Result<Image<EncodedRgb8>> srgb8_from_positive(View<const EncodedRgb16> picture, const std::string& icc_bytes);
/// The proof of a positive in memory, as ProofMaker makes it.
[[nodiscard]] Result<Image<EncodedRgb8>> proof_from_positive(View<const EncodedRgb16> picture, const std::string& icc_bytes, int long_side);
/// A page of a roll's frames in number order, with captions and a heading; sRGB.
[[nodiscard]] Image<EncodedRgb8> compose_contact_sheet(const std::string& heading, const std::vector<ContactItem>& items);
/// An 8-bit grey PNG of `width` x `height`, streamed by rows; `row(y, buffer)` fills one. It may return a Result, whose failure ends
/// the writing and is handed back.
template <class FillRow>
[[nodiscard]] Result<void> write_grey_png(const std::string& path, std::int64_t width, std::int64_t height, FillRow&& row);
namespace detail {
[[nodiscard]] Result<void> write_grey_png_rows(const std::string& path, std::int64_t width, std::int64_t height, void* context,
                                               bool (*fill)(void* context, std::int64_t y, std::uint8_t* row));
}
template <class FillRow>
Result<void> write_grey_png(const std::string& path, std::int64_t width, std::int64_t height, FillRow&& row) {
    struct Context {
        std::remove_reference_t<FillRow>& row;
        Result<void> outcome;
    } context{row, {}};
    auto written = detail::write_grey_png_rows(path, width, height, &context, [](void* it, std::int64_t y, std::uint8_t* buffer) {
        auto& own = *static_cast<Context*>(it);
        if constexpr (std::is_void_v<std::invoke_result_t<FillRow&, std::int64_t, std::uint8_t*>>)
            own.row(y, buffer);
        else
            own.outcome = own.row(y, buffer);
        return own.outcome.has_value();
    });
    if (!context.outcome) return Failure(std::move(context.outcome.error()));
    return written;
}

}  // namespace basefog
