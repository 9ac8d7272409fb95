// SPDX-License-Identifier: GPL-3.0-or-later
// From density to a finished pixel: film model -> scene-linear light -> tone -> output profile.
#pragma once

#include "basefog/core/geometry.h"
#include "basefog/core/image.h"
#include "basefog/core/pixel_source.h"
#include "basefog/core/result.h"
#include "basefog/density/types.h"
#include "basefog/film/types.h"
#include "basefog/invert/options.h"
#include "basefog/invert/shadow_means.h"
#include "basefog/invert/types.h"

#include <memory>
#include <optional>
#include <string>

namespace basefog {

/// An RGB output profile with its pixels' encoding; built once, used from any number of threads.
class OutputProfile {
public:
    /// Errors: not_found, malformed, unsupported (not RGB, not an output or display profile).
    [[nodiscard]] static Result<OutputProfile> make(const InvertOptions& options);
    OutputProfile(OutputProfile&&) noexcept;
    OutputProfile& operator=(OutputProfile&&) noexcept;
    ~OutputProfile();
    /// The ICC profile to embed.
    [[nodiscard]] const std::string& icc_bytes() const;
    [[nodiscard]] const std::string& name() const;
    /// Perceptual fitting, before encoding: what the profile's gamut cannot hold is drawn in smoothly, hue and luminance kept. Linear sRGB primaries in and
    /// out, in place.
    void fit_row(float* r, float* g, float* b, std::int64_t n) const;
    /// Colorimetric. Linear sRGB primaries in, encoded out, 0..1 clipped with the hue kept. `n` pixels; in and out must not overlap.
    void encode(const SceneRgb* in, EncodedRgb16* out, std::int64_t n) const;
    /// The same with the channels apart; the inputs are used as scratch.
    void encode_row(float* r, float* g, float* b, EncodedRgb16* out, std::int64_t n) const;

private:
    struct Impl;
    explicit OutputProfile(std::unique_ptr<Impl> impl);
    std::unique_ptr<Impl> impl_;
};

/// Const after construction; safe from any number of threads. Copies share their tables.
class Inverter {
public:
    /// `base_noise`: standard deviation of density in clear film at one scan pixel, where it was measured; it says which shadows
    /// cannot be told from base, and are shown neutral and dark instead of as coloured speckle. nullopt: a usual value.
    /// `colour_noise`: that of the differences between channels, where it is less because ShadowMeans settled it.
    Inverter(const FilmModel& model, const Rgb<Density>& base, LogExposure render_level, const InvertOptions& options,
             std::optional<Density> base_noise = std::nullopt, std::optional<Density> colour_noise = std::nullopt);
    /// Scene-linear light, 0.18 = the render level; balance applied, no tone curve. NaN density counts as opaque.
    [[nodiscard]] SceneRgb scene(DensityRgbi density) const;
    /// Display-linear light after tone and saturation, mostly 0..1.
    [[nodiscard]] SceneRgb display(SceneRgb scene) const;
    /// display(scene(density)) for `n` pixels with their channels apart, in place, by tables: within a quarter of a 16-bit step of L*.
    void display_row(float* r, float* g, float* b, std::int64_t n) const;
    /// scene(density) for `n` pixels, the exposure option taken in: what a scene-linear file holds. In place, by the same tables.
    void linear_row(float* r, float* g, float* b, std::int64_t n) const;

private:
    struct Impl;
    std::shared_ptr<const Impl> impl_;
};

/// Size of the positive of a frame at the scan's own resolution.
[[nodiscard]] PositiveSize positive_size(const Quad& corners);
/// The part of a scan needed to render a frame (before clipping to the scan).
[[nodiscard]] PxRect source_rect(const Quad& corners);

/// Renders rows [row0, row0 + out.height()) of a frame's positive: one resampling of linear light from the source, which holds source_rect() as far as the
/// scan reaches, light divided out, inverted, encoded. out.width() is positive_size().width. Positions outside the source repeat its edge.
/// `shadows`, where given, settles noise in thin shadows first. Any rows at once from any threads. Errors: the source's.
[[nodiscard]] Result<void> render_rows(const PixelSource& source, const Quad& corners, const LightField& light, const Inverter& inverter,
                                       const OutputProfile& profile, std::int64_t row0, View<EncodedRgb16> out, const ShadowMeans* shadows = nullptr);
/// The same rows as scene-linear light, linear sRGB primaries, 0.18 = mid-grey.
[[nodiscard]] Result<void> render_linear_rows(const PixelSource& source, const Quad& corners, const LightField& light, const Inverter& inverter,
                                              std::int64_t row0, View<SceneRgb> out, const ShadowMeans* shadows = nullptr);
/// The same rows as density above `base`.
[[nodiscard]] Result<void> render_density_rows(const PixelSource& source, const Quad& corners, const LightField& light, const Rgb<Density>& base,
                                               std::int64_t row0, View<DensityRgbi> out);

}  // namespace basefog
