// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/residue/measure_residue.h"

#include "residue/by_colour.h"
#include "residue/by_dyes.h"
#include "residue/by_infrared.h"
#include "residue/constants.h"
#include "residue/findings.h"
#include "residue/grade.h"
#include "residue/registration.h"

#include <algorithm>
#include <cmath>
#include <opencv2/imgproc.hpp>

namespace basefog {

using namespace residue;

namespace {

/// 0 where nothing is told from noise and no veil lies over all.
cv::Mat told(const cv::Mat& residue, const StripPlanes& planes, double noise, double veil) {
    cv::Mat result = cv::max(residue, 0);
    // A single pixel may stand out by chance; its neighbours' mean may not.
    cv::Mat around;
    cv::boxFilter(residue, around, CV_32F, cv::Size(3, 3));
    if (veil <= 0) result.setTo(0, around < std::max(kLeastTold, kToldSigmas * noise / 3));
    result.setTo(0, planes.visible == 0);
    return result;
}

/// Level of what infrared shows on clear film, or where there is too little of it on all: clear film knows nothing of the dyes' leak.
double even_level(const cv::Mat& residue, const StripPlanes& planes) {
    const bool clear = cv::countNonZero(planes.clear) > kEnoughClear * cv::countNonZero(planes.visible);
    return low_level(residue, clear ? planes.clear : planes.visible);
}

StripEvidence look_by_infrared(StripPlanes planes, const InfraredModel& model) {
    StripEvidence e;
    e.by_infrared = true;
    e.veil_separable = true;
    const cv::Mat raw = residue_by_infrared(planes, {model.leak, model.noise}, model.carbon_gain);
    e.noise = pixel_noise(raw, planes.visible);
    const double level = even_level(raw, planes);
    e.veil_std = std::hypot(0.5 * kLeastVeil, model.noise);
    e.veil = level > kLeastVeil ? level : 0;
    e.residue = told(raw, planes, e.noise, e.veil);
    e.judged = planes.visible.clone();
    e.specks = specks_in_residue(e.residue, planes, e.noise);
    e.planes = std::move(planes);
    return e;
}

/// Strips of one stock by name; where a name is missing, those whose bases carry the same mask.
Alike alike_strips(const SheetDensity& density, const std::vector<std::string>& stock_of_strip) {
    const std::size_t n = density.strips.size();
    const auto name = [&](std::size_t k) { return k < stock_of_strip.size() ? stock_of_strip[k] : std::string(); };
    const auto base = [&](std::size_t k) -> Rgb<double> {
        const auto& b = density.strips[k].base;
        return {b.r.value.value(), b.g.value.value(), b.b.value.value()};
    };
    Alike alike(n, std::vector<bool>(n, false));
    for (std::size_t i = 0; i < n; ++i)
        for (std::size_t j = 0; j < n; ++j) {
            if (density.strips[i].silver_image || density.strips[j].silver_image) continue;
            alike[i][j] = !name(i).empty() && !name(j).empty() ? name(i) == name(j) : same_mask(base(i), base(j));
        }
    return alike;
}

/// Is there another strip of the same film to compare a veil with?
bool has_company(const Alike& alike, std::size_t i) {
    for (std::size_t j = 0; j < alike.size(); ++j)
        if (j != i && alike[i][j]) return true;
    return false;
}

/// Neutral density that each strip's base, as measured, still carries as a veil (negative: too much was taken off it). Film without image passes
/// infrared alike whatever its mask and fog, once their leak is taken off; so the clearest strip of the sheet tells for all. Where the density stage
/// compared with another strip of the same film it knows better, but for more than supports differ by.
std::vector<double> veils_in_bases(const std::vector<StripPlanes>& planes, const SheetDensity& density, const InfraredModel& model, const Alike& alike) {
    const double unity = 1 - model.leak[0] - model.leak[1] - model.leak[2];
    std::vector<double> support(planes.size(), 0.0), level(planes.size(), 0.0), carried(planes.size(), 0.0);
    double clearest = kSupportInfraredMost;
    for (std::size_t i = 0; i < planes.size(); ++i) {
        if (planes[i].silver) continue;
        const StripBase& base = density.strips[i];
        level[i] = even_level(residue_by_infrared(planes[i], {model.leak, model.noise}, model.carbon_gain), planes[i]);
        support[i] = base.base_ir.value.value() - model.leak[0] * base.base.r.value.value() - model.leak[1] * base.base.g.value.value() -
                     model.leak[2] * base.base.b.value.value() + level[i] * unity / model.carbon_gain;
        clearest = std::min(clearest, support[i]);
    }
    for (std::size_t i = 0; i < planes.size(); ++i) {
        if (planes[i].silver) continue;
        const double veil = model.carbon_gain * (support[i] - clearest) / unity;
        const bool only_stocks_compared = level[i] > kLeastVeil && !has_company(alike, i);
        if (only_stocks_compared || std::abs(veil - level[i]) > kSupportSpread) carried[i] = veil - level[i];
    }
    return carried;
}

void take_off_base(StripPlanes& planes, double veil, double carbon_gain) {
    if (veil == 0) return;
    for (int c = 0; c < 3; ++c) planes.above_base[static_cast<std::size_t>(c)] += veil;
    planes.above_base[3] += veil / carbon_gain;
}

StripEvidence look_by_colour(StripPlanes planes, bool company) {
    StripEvidence e;
    const ColourResidue found = residue_by_colour(planes);
    e.noise = found.noise;
    const double level = low_level((planes.above_base[0] + planes.above_base[1] + planes.above_base[2]) / 3, planes.clear);
    const bool veiled = level > 1.5 * kLeastVeil && !planes.silver;
    e.veil_separable = veiled || (company && !planes.silver);
    e.veil = veiled ? level : 0;
    e.veil_std = kLeastVeil;
    e.residue = found.density;
    e.judged = found.judged;
    if (e.veil <= 0) e.residue.setTo(0, e.residue < std::max(kLeastTold, kToldSigmas * e.noise));
    if (!planes.silver) e.specks = specks_by_colour(planes, e.noise);
    e.planes = std::move(planes);
    return e;
}

void classify(std::vector<StripEvidence>& all, double threshold) {
    std::vector<SpeckMap> maps;
    std::vector<SpeckSetting> settings;
    for (StripEvidence& e : all) {
        const double visible = cv::countNonZero(e.planes.visible) / (e.planes.px_per_mm * e.planes.px_per_mm);
        settings.push_back({visible, smeared_percent(e, threshold) > kCleanAreaPercent || e.veil >= kPartialVeil});
        maps.push_back(std::move(e.specks));
    }
    classify_specks(maps, settings);
    for (std::size_t i = 0; i < all.size(); ++i) all[i].specks = std::move(maps[i]);
}

void paint(const StripEvidence& e, SheetResidue& sheet) {
    std::vector<Defect> kind_of(1, Defect::none);
    for (const Speck& s : e.specks.specks) {
        if (static_cast<std::size_t>(s.label) >= kind_of.size()) kind_of.resize(static_cast<std::size_t>(s.label) + 1, Defect::none);
        kind_of[static_cast<std::size_t>(s.label)] = s.kind;
    }
    for (int y = 0; y < e.residue.rows; ++y) {
        for (int x = 0; x < e.residue.cols; ++x) {
            const std::int64_t sx = x + e.planes.roi.x, sy = y + e.planes.roi.y;
            const float density = e.residue.at<float>(y, x);
            const auto label = e.specks.labels.empty() ? 0U : static_cast<std::size_t>(e.specks.labels.at<int>(y, x));
            const Defect kind = label < kind_of.size() ? kind_of[label] : Defect::none;
            if (density > 0) sheet.residue_density(sx, sy) = density;
            const bool likely = !e.likely.empty() && e.likely.at<uchar>(y, x);
            if (kind != Defect::none) {
                sheet.defects(sx, sy) = kind;
            } else if (likely || density > static_cast<float>(kMapDensity)) {
                sheet.defects(sx, sy) = Defect::residue;
            }
        }
    }
}

}  // namespace

Result<void> validate(const ResidueOptions& options) {
    if (!(options.area_threshold.value() > 0 && options.area_threshold.value() < 1)) return fail(ErrorCode::usage, "area_threshold must lie between 0 and 1");
    return {};
}

Result<SheetResidue> measure_residue(const Overview& overview, const SheetLayout& layout, const RegionMap& regions, const SheetDensity& density,
                                     const ResidueOptions& options, const ForEach& for_each) {
    if (auto ok = validate(options); !ok) return Failure(ok.error());
    BASEFOG_ASSERT(density.strips.size() == layout.strips.size());
    BASEFOG_ASSERT(density.density.width() == overview.pixels.width() && density.density.height() == overview.pixels.height());
    BASEFOG_ASSERT(regions.labels.width() == overview.pixels.width() && regions.labels.height() == overview.pixels.height());
    SheetResidue sheet;
    sheet.defects = Image<Defect>(overview.pixels.width(), overview.pixels.height(), Defect::none);
    sheet.residue_density = Image<float>(overview.pixels.width(), overview.pixels.height(), 0.0F);
    sheet.veil_in_base.resize(layout.strips.size());
    InfraredMatch match;
    if (overview.has_infrared) match = match_infrared(overview);
    std::vector<StripPlanes> planes(layout.strips.size());
    for_each.all(planes.size(), [&](std::size_t i) { planes[i] = cut_strip(overview, layout, regions, density, static_cast<int>(i), match); });
    const Alike alike = alike_strips(density, options.stock_of_strip);
    if (overview.has_infrared) {
        const DyeLeak leak = fit_leak(planes);
        sheet.infrared = InfraredModel{match, leak.k, leak.noise, fit_carbon_gain(planes, leak)};
        const std::vector<double> carried = veils_in_bases(planes, density, *sheet.infrared, alike);
        for (std::size_t i = 0; i < planes.size(); ++i) {
            take_off_base(planes[i], carried[i], sheet.infrared->carbon_gain);
            sheet.veil_in_base[i] = {Density(carried[i]), Density(carried[i] != 0 ? kSupportSpread / 2 : 0)};
        }
    }
    std::vector<StripEvidence> all(planes.size());
    for_each.all(planes.size(), [&](std::size_t i) {
        const bool infrared = overview.has_infrared && !planes[i].silver;
        all[i] = infrared ? look_by_infrared(std::move(planes[i]), *sheet.infrared) : look_by_colour(std::move(planes[i]), has_company(alike, i));
    });
    classify(all, options.area_threshold.value());
    const std::vector<bool> likely = mark_likely_residue(all, alike, options.area_threshold.value());
    for (std::size_t i = 0; i < all.size(); ++i) {
        sheet.strips.push_back(summarise(all[i], layout.strips[i], overview.factor, options.area_threshold.value()));
        paint(all[i], sheet);
        report_strip(sheet.strips.back(), static_cast<int>(i), all[i].planes.silver, all[i].by_infrared, likely[i], sheet.findings);
    }
    report_cautions(sheet.strips, sheet.findings);
    return sheet;
}

}  // namespace basefog
