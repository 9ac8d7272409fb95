// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/density/measure_density.h"

#include "density/cells.h"
#include "density/constants.h"
#include "density/fit_light.h"
#include "density/flare.h"
#include "density/strip_base.h"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <numbers>

namespace basefog {

using namespace density;

namespace {

/// Level of the brightest light the sheet shows: bare light, else the film.
Channels bright_level(const LightEvidence& evidence) {
    Channels bright{1, 1, 1, 1};
    for (int c = 0; c < 4; ++c) {
        std::vector<double> levels;
        for (const LightCell& cell : evidence.bare) levels.push_back(std::exp(cell.ln_light[c]));
        if (levels.empty()) {
            for (const auto& strip : evidence.clear) {
                for (const LightCell& cell : strip) levels.push_back(std::exp(cell.ln_light[c]));
            }
        }
        if (!levels.empty()) bright[c] = quantile(levels, 0.9);
    }
    return bright;
}

LightField to_field(const FittedLight& fit, const Flare& flare, const Overview& overview) {
    LightField field;
    for (std::size_t c = 0; c < (overview.has_infrared ? 4U : 3U); ++c) {
        for (int k = 0; k < LightField::kTerms; ++k) field.coefficient[c][static_cast<std::size_t>(k)] = fit.coefficient[c][k];
    }
    field.flare = {static_cast<float>(flare.film[0]), static_cast<float>(flare.film[1]), static_cast<float>(flare.film[2]),
                   overview.has_infrared ? static_cast<float>(flare.film[3]) : 0.0F};
    field.scan_width = static_cast<double>(overview.scan_width);
    field.scan_height = static_cast<double>(overview.scan_height);
    field.from_bare_light = fit.from_bare_light;
    field.n = fit.n;
    field.residual_std = fit.residual_std;
    return field;
}

Image<DensityRgbi> density_image(const Overview& overview, const LightField& light) {
    Image<DensityRgbi> density(overview.pixels.width(), overview.pixels.height());
    for (std::int64_t y = 0; y < density.height(); ++y) {
        for (std::int64_t x = 0; x < density.width(); ++x) {
            const PointPx p{(static_cast<double>(x) + 0.5) * overview.factor, (static_cast<double>(y) + 0.5) * overview.factor};
            density(x, y) = light.density(overview.pixels(x, y), p);
        }
    }
    return density;
}

/// A strip without clear film: the least density of its pictures is all there is.
RawBase base_from_pictures(const Image<DensityRgbi>& density, const RegionMap& regions, int strip, bool has_infrared) {
    constexpr double kLowShare = 0.01, kStd = 0.05;
    std::array<std::vector<double>, 4> values;
    for (std::int64_t y = 0; y < density.height(); ++y) {
        for (std::int64_t x = 0; x < density.width(); ++x) {
            if (regions.strip(x, y) != strip || regions.labels(x, y) == Region::bare_light) continue;
            const DensityRgbi& d = density(x, y);
            const Channels all{d.r, d.g, d.b, d.ir};
            for (std::size_t c = 0; c < 4; ++c) values[c].push_back(all[c]);
        }
    }
    RawBase base;
    for (std::size_t c = 0; c < (has_infrared ? 4U : 3U); ++c) {
        base.value[c] = quantile(values[c], kLowShare);
        base.std_uncertainty[c] = kStd;
    }
    return base;
}

StripBase to_strip_base(const RawBase& raw, const FittedLight& light, bool has_infrared) {
    MeasureFlag flags = MeasureFlag::none;
    if (!raw.measured) flags = flags | MeasureFlag::extrapolated;
    if (raw.dusty) flags = flags | MeasureFlag::dusty;
    if (raw.clipped || light.clipped) flags = flags | MeasureFlag::clipped;
    if (!light.from_bare_light) flags = flags | MeasureFlag::relative;
    StripBase base;
    const auto measured = [&](std::size_t c) { return Measured<Density>{Density(raw.value[c]), Density(raw.std_uncertainty[c]), raw.n, flags}; };
    base.base = {measured(0), measured(1), measured(2)};
    if (has_infrared) base.base_ir = measured(3);
    return base;
}

Finding sheet_finding(Severity severity, std::string code, std::string message) { return {severity, std::move(code), std::move(message), {}, {}}; }

void report_light(const FittedLight& light, const Flare& flare, const Overview& overview, SheetDensity& result) {
    auto& findings = result.findings;
    if (!light.from_bare_light) {
        findings.push_back(sheet_finding(Severity::caution, "bare-light-missing",
                                         "No bare light is in view, so densities are relative to the clearest film. Leave a perforation, a strip's end or an "
                                         "empty opening uncovered to measure the base itself."));
    }
    if (light.clipped) {
        findings.push_back(sheet_finding(Severity::caution, "bare-light-clipped",
                                         "Bare light is at the scan's white limit, so densities may read too low. Scan with less exposure."));
    }
    if (light.shaped_by_film) {
        findings.push_back(sheet_finding(Severity::note, "bare-light-sparse",
                                         "Bare light covers too little of the sheet to fix how evenly it is lit; the film's own clear parts helped."));
    }
    if (flare.measured) {
        Finding f = sheet_finding(Severity::note, "stray-light", "Stray light was read off the opaque parts of the holder and taken away.");
        for (int c = 0; c < 3; ++c) f.numbers.emplace_back(fmt::format("flare_{}", "rgb"[c]), flare.film[static_cast<std::size_t>(c)]);
        f.numbers.emplace_back("holder_density", flare.holder_density);
        findings.push_back(std::move(f));
    }
    if (overview.monochrome_file) {
        findings.push_back(
            sheet_finding(Severity::caution, "single-channel-scan", "The scan has one channel only; colour film cannot be told from black-and-white."));
    }
}

void report_strip(const RawBase& raw, double veil, bool silver, int strip, SheetDensity& result) {
    const auto add = [&](Severity severity, const char* code, std::string message) {
        Finding f = sheet_finding(severity, code, std::move(message));
        f.where.strip = strip;
        result.findings.push_back(std::move(f));
    };
    if (!raw.measured) {
        add(Severity::caution, "base-not-in-view", "No clear film of this strip is in view; its base was guessed from the thinnest parts of its pictures.");
    }
    if (veil > 0) {
        add(Severity::note, "base-under-veil", "The clear film carries an even neutral veil against a cleaner strip; it was not counted as base.");
        result.findings.back().numbers.emplace_back("veil_density", veil);
    }
    if (silver) add(Severity::note, "silver-image", "This strip has no orange mask and neutral pictures: black-and-white.");
}

void measure_strips(const Overview& overview, const SheetLayout& layout, const RegionMap& regions, const DensityOptions& options, const LightEvidence& evidence,
                    const FittedLight& light, const Flare& flare, SheetDensity& result) {
    const bool ir = overview.has_infrared;
    const Channels bright = bright_level(evidence);
    const double spot_px = options.spot.value() * make_grid(overview, layout, kBaseCellMm).px_per_mm;
    std::vector<RawBase> bases;
    std::vector<bool> silver;
    std::vector<Rgb<double>> noise;
    for (std::size_t i = 0; i < layout.strips.size(); ++i) {
        const int strip = static_cast<int>(i);
        RawBase raw = estimate_base(densities_of(evidence.clear[i], light, flare), light, flare, bright, ir);
        if (!raw.measured) raw = base_from_pictures(result.density, regions, strip, ir);
        silver.push_back(overview.monochrome_file || is_silver(result.density, regions, strip, raw, result.relative));
        noise.push_back(base_noise(result.density, regions, strip, raw, spot_px));
        bases.push_back(raw);
    }
    const std::vector<double> veils = remove_veils(bases, silver, ir);
    for (std::size_t i = 0; i < bases.size(); ++i) {
        StripBase base = to_strip_base(bases[i], light, ir);
        base.noise = noise[i];
        base.silver_image = silver[i];
        result.strips.push_back(base);
        report_strip(bases[i], veils[i], silver[i], static_cast<int>(i), result);
    }
}

}  // namespace

Result<void> validate(const DensityOptions& options) {
    if (!(options.light_trim >= 0 && options.light_trim <= 0.5)) return fail(ErrorCode::usage, "light_trim must lie between 0 and 0.5");
    if (!(options.spot.value() > 0 && options.spot.value() <= 2)) return fail(ErrorCode::usage, "the spot must be larger than 0 and at most 2 mm");
    return {};
}

Result<SheetDensity> measure_density(const Overview& overview, const SheetLayout& layout, const RegionMap& regions, const DensityOptions& options) {
    if (auto ok = validate(options); !ok) return Failure(ok.error());
    if (overview.pixels.empty()) return fail(ErrorCode::malformed, "the overview is empty");
    BASEFOG_ASSERT(regions.labels.width() == overview.pixels.width() && regions.labels.height() == overview.pixels.height());
    BASEFOG_ASSERT(regions.strip.width() == overview.pixels.width() && regions.strip.height() == overview.pixels.height());
    BASEFOG_ASSERT(overview.factor >= 1 && overview.scan_width > 0 && overview.scan_height > 0);

    const Grid light_grid = make_grid(overview, layout, kLightCellMm), base_grid = make_grid(overview, layout, kBaseCellMm);
    LightEvidence evidence;
    evidence.bare = bare_light_cells(overview, regions, light_grid);
    for (std::size_t i = 0; i < layout.strips.size(); ++i) {
        evidence.clear.push_back(clear_film_cells(overview, regions, base_grid, static_cast<int>(i)));
    }
    evidence.pixel_noise = relative_noise(overview, regions, Region::bare_light);
    evidence.has_infrared = overview.has_infrared;
    evidence.trim = options.light_trim;

    const FittedLight light = overview.light_divided ? known_light() : fit_light(evidence);
    const Flare flare = estimate_flare(overview, regions, light_grid, bright_level(evidence));
    SheetDensity result;
    result.light = to_field(light, flare, overview);
    result.relative = !light.from_bare_light;
    result.density = density_image(overview, result.light);
    report_light(light, flare, overview, result);
    measure_strips(overview, layout, regions, options, evidence, light, flare, result);
    return result;
}

}  // namespace basefog
