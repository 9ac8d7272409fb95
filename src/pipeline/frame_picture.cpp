// SPDX-License-Identifier: GPL-3.0-or-later
#include "frame_picture.h"

#include "print.h"
#include "sample_frame.h"

#include "basefog/residue/refine_match.h"

#include <algorithm>
#include <cmath>

namespace basefog::pipeline {
namespace {

/// Film around a picture that mending may look at: surroundings of a defect at the picture's edge, and infrared that lies beside.
constexpr double kMendMarginMm = 0.4;

/// Noise of base density in one pixel, from that of a spot: averaging n pixels divides white noise by sqrt n.
Density pixel_noise(const StripBase& base, Millimetres spot, PixelsPerMm scale) {
    const double pixels_across_spot = std::max(1.0, to_px(spot, scale));
    return Density(pixels_across_spot * std::max({base.noise.r, base.noise.g, base.noise.b}));
}

/// What is left of it, of light and of colour, where shadows are settled by the means of spots: the spot's own, the base's uncertainty, and a part of
/// the pixel's light.
struct SettledNoise {
    Density light{}, colour{};
};
SettledNoise settled_noise(const StripBase& base, Density pixel, bool settled) {
    if (!settled) return {pixel, pixel};
    double spot = 0;
    for (int c = 0; c < 3; ++c) spot = std::max(spot, std::hypot(base.noise[c], base.base[c].std_uncertainty.value()));
    const Density light(std::hypot(spot, ShadowMeans::left_of(pixel).value()));
    return {std::min(pixel, light), std::min(pixel, Density(spot))};
}

PxRect grown(PxRect r, std::int64_t margin) { return {r.x0 - margin, r.y0 - margin, r.x1 + margin, r.y1 + margin}; }

}  // namespace

PictureFacts picture_facts(const StripRecord& strip, FilmModel model, const Rgb<LogExposure>& balance, LogExposure level, const PrintValues& print,
                           PixelsPerMm scale, const RunOptions& options) {
    const Rgb<Density> base = under_pictures(strip.base, strip.residue);
    const Density noise = pixel_noise(strip.base, options.density.spot, scale);
    const std::int64_t cell = std::llround(to_px(options.density.spot, scale));
    const SettledNoise left = settled_noise(strip.base, noise, cell > 1);
    model.balance = balance;
    return {base, noise, cell, Inverter(model, base, level, invert_options_of(options, print), left.light, left.colour)};
}

Result<ShadowMeans> shadow_means(const PixelSource& source, const LightField& light, const PictureFacts& facts, const ForEach& for_each) {
    return ShadowMeans::make(source, light, facts.shadow_cell, facts.base, facts.noise, for_each);
}

Result<MendFacts> mend_facts(const MeasuredSheet& sheet, const StripRecord& strip, const PixelSource& source, const RunOptions& options,
                             const ForEach& for_each) {
    const auto& base = strip.base.base;
    MendFacts facts;
    facts.light = sheet.light;
    facts.base = {base.r.value, base.g.value, base.b.value};
    facts.base_infrared = strip.base.base_ir.value;
    facts.veil = strip.residue.veil_separable ? strip.residue.veil.value : Density(0);
    facts.silver = strip.base.silver_image;
    facts.residue_left = strip.residue.grade != ResidueGrade::clean;
    facts.infrared = sheet.infrared;
    facts.scale = sheet.record.scale;
    if (!facts.infrared || facts.silver || options.mend.mode == MendMode::off || sheet.overview_factor <= 1) return facts;
    auto match = refine_match(source, facts.infrared->match, for_each);
    if (!match) return Failure(std::move(match.error()));
    facts.infrared->match = *match;
    return facts;
}

PxRect picture_source(const Quad& corners, PixelsPerMm scale, MendMode mode) {
    const std::int64_t margin = mode == MendMode::off ? 0 : std::llround(std::max(4.0, to_px(Millimetres(kMendMarginMm), scale)));
    return grown(source_rect(corners), margin);
}

Result<Image<EncodedRgb16>> render_picture(const PixelSource& source, const Quad& corners, const LightField& light, const Inverter& inverter,
                                           const OutputProfile& profile, const ShadowMeans& shadows, const ForEach& for_each) {
    const PositiveSize size = positive_size(corners);
    Image<EncodedRgb16> positive(size.width, size.height);
    auto made = for_each((size.height + kRenderRows - 1) / kRenderRows, for_each.at_once, [&](std::int64_t part) {
        const std::int64_t first = part * kRenderRows, n = std::min(kRenderRows, size.height - first);
        return render_rows(source, corners, light, inverter, profile, first, positive.view().part(0, first, size.width, n), &shadows);
    });
    if (!made) return Failure(std::move(made.error()));
    return positive;
}

}  // namespace basefog::pipeline
