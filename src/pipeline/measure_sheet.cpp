// SPDX-License-Identifier: GPL-3.0-or-later
#include "measure_sheet.h"

#include "camera.h"
#include "histogram.h"
#include "orientation.h"
#include "pictures.h"
#include "sample_frame.h"
#include "strip_shots.h"
#include "workers.h"

#include "basefog/density/measure_density.h"
#include "basefog/frames/find_frames.h"
#include "basefog/frames/read_edge_print.h"
#include "basefog/invert/write.h"
#include "basefog/residue/measure_residue.h"
#include "basefog/scan/reader.h"

#include <algorithm>
#include <cmath>

namespace basefog::pipeline {
namespace {

constexpr int kOverviewLongSide = 1600;  // Chosen: readable on a wide screen, a few hundred kB in the report.

/// Bytes of working memory the measuring stages need per overview pixel (overview, density, labels, residue and the stages' own
/// scratch). Measured: peak resident memory of whole runs over the overview's pixels: 62 at 11.6 megapixels, 64 at 8.9.
constexpr std::int64_t kBytesPerOverviewPixel = 66;
/// What the program itself takes beside that, and the decoder: peak less the above. Measured likewise.
constexpr std::int64_t kBytesBeside = 64LL * 1024 * 1024;

void place_findings(std::vector<Finding> found, const SheetPlan& plan, const ScanRecord& record, std::vector<Finding>& all) {
    for (Finding& finding : found) {
        finding.where.scan = plan.file;
        if (finding.where.strip >= 0 && finding.where.strip < static_cast<int>(record.strips.size()))
            finding.where.roll = record.strips[static_cast<std::size_t>(finding.where.strip)].roll;
        all.push_back(std::move(finding));
    }
}

void note_scan(const ScanInfo& info, const SheetPlan& plan, std::vector<Finding>& findings) {
    for (const std::string& warning : info.warnings) findings.push_back({Severity::caution, "scan-limits-measurement", warning, {plan.file, -1, -1, {}}, {}});
}

std::vector<std::string> stocks_of(const std::vector<StripNaming>& names, const RunOptions& options) {
    std::vector<std::string> stocks;
    for (const StripNaming& naming : names) {
        const Roll* roll = options.ledger ? options.ledger->find_roll(naming.roll) : nullptr;
        stocks.push_back(roll != nullptr ? roll->stock : std::string{});
    }
    return stocks;
}

/// Each cell of the map as so many pixels of the scan.
Result<void> write_defect_map(const SheetResidue& residue, const Overview& overview, const MapPlace& map) {
    const Image<Defect>& defects = residue.defects;
    std::vector<std::uint8_t> wide(static_cast<std::size_t>(overview.scan_width));
    std::int64_t made = -1;
    return write_grey_png(map.absolute, overview.scan_width, overview.scan_height, [&](std::int64_t y, std::uint8_t* row) {
        const std::int64_t oy = std::min(y / overview.factor, defects.height() - 1);
        for (std::int64_t cell = 0; made != oy && cell < defects.width(); ++cell) {
            const auto first = wide.begin() + std::min(cell * overview.factor, overview.scan_width);
            const auto last = cell + 1 == defects.width() ? wide.end() : wide.begin() + std::min((cell + 1) * overview.factor, overview.scan_width);
            std::fill(first, last, static_cast<std::uint8_t>(defects(cell, oy)));
        }
        made = oy;
        std::copy(wide.begin(), wide.end(), row);
    });
}

/// A channel that never varies, or repeats the red one, saw no infrared: an alpha channel, a failed scan, the wrong file. Film and its edges
/// alone make infrared vary by several per cent, and dyes make red differ from it by far more.
bool infrared_is_dead(const Image<LinearRgbi>& pixels) {
    constexpr float kLeastVariation = 0.01F;  // of full scale. Chosen; safe range 0.002 to 0.02
    float low = 1e30F, high = -1e30F, apart = 0;
    for (std::int64_t y = 0; y < pixels.height(); ++y)
        for (std::int64_t x = 0; x < pixels.width(); ++x) {
            const LinearRgbi& p = pixels(x, y);
            low = std::min(low, p.ir);
            high = std::max(high, p.ir);
            apart = std::max(apart, std::abs(p.ir - p.r));
        }
    return high - low < kLeastVariation || apart < kLeastVariation;
}

struct Looked {
    Overview overview;
    ScanInfo info;
};

Result<Looked> look(const SheetPlan& plan, const RunOptions& options, Observer& observer) {
    ScanOptions from_the_top = plan.scan;
    from_the_top.from_the_top = true;
    auto reader = open_scan(plan.path, from_the_top, observer);
    if (!reader) return Failure(std::move(reader.error()));
    // A shot of a strip shows little more than the film's width; its perforations, in view, tell better.
    constexpr double kUsualAcrossMm = 36;
    const double across = static_cast<double>(std::min((*reader)->info().width, (*reader)->info().height));
    const double about = plan.about ? plan.about->value() : plan.strip_shots ? across / kUsualAcrossMm : 0;
    OverviewOptions wanted = plan.close_up ? close_up_overview(options.overview) : options.overview;
    if (about > 0) {
        // As fine as of any scan of this scale, though the file does not state it.
        const auto factor = std::max<std::int64_t>(1, static_cast<std::int64_t>(about / px_per_mm_from_dpi(wanted.target_dpi).value()));
        const ScanInfo& info = (*reader)->info();
        wanted.max_pixels = std::min(wanted.max_pixels, ((info.width + factor - 1) / factor) * ((info.height + factor - 1) / factor));
    }
    const std::int64_t room = std::max(options.memory_bytes - kBytesBeside, options.memory_bytes / 4);
    const OverviewOptions with_memory_enough = wanted;
    wanted.max_pixels = std::min(wanted.max_pixels, room / kBytesPerOverviewPixel);
    if (overview_factor((*reader)->info(), wanted) > overview_factor((*reader)->info(), with_memory_enough))
        observer.notice(plan.path + ": is measured more coarsely than it could be, to keep within --memory");
    (*reader)->will_average(overview_factor((*reader)->info(), wanted));
    auto overview = read_overview(**reader, wanted, observer, on_all_threads());
    if (!overview) return Failure(std::move(overview.error()));
    Looked looked{std::move(*overview), (*reader)->info()};
    if (plan.strip_shots) {
        // What a camera states there means nothing.
        looked.overview.scan_resolution.reset();
        looked.info.resolution.reset();
    }
    if (looked.overview.has_infrared && infrared_is_dead(looked.overview.pixels)) {
        looked.overview.has_infrared = looked.info.has_infrared = false;
        looked.info.warnings.push_back("The infrared (" + looked.info.infrared_from +
                                       ") holds nothing of its own: it is even all over, or a copy of the red channel. It is not used.");
        looked.info.infrared_from.clear();
    }
    return looked;
}

/// A strip's base less the veil that the residue stage told in it.
StripBase without_veil(StripBase base, const Measured<Density>& veil, const std::optional<InfraredModel>& infrared) {
    const auto lower = [&](Measured<Density>& channel, double share) {
        channel.value = channel.value - Density(veil.value.value() * share);
        channel.std_uncertainty = Density(std::hypot(channel.std_uncertainty.value(), veil.std_uncertainty.value() * share));
    };
    if (veil.value == Density(0)) return base;
    lower(base.base.r, 1);
    lower(base.base.g, 1);
    lower(base.base.b, 1);
    if (infrared) lower(base.base_ir, 1 / infrared->carbon_gain);
    return base;
}

Result<void> fill_strips(MeasuredSheet& sheet, const SheetLayout& layout, const std::vector<StripNaming>& names, const SheetDensity& density,
                         const SheetResidue& residue, int factor) {
    for (std::size_t s = 0; s < layout.strips.size(); ++s) {
        StripRecord strip{names[s].roll, layout.strips[s], without_veil(density.strips[s], residue.veil_in_base[s], residue.infrared), residue.strips[s], {}};
        std::vector<FrameSamples> samples;
        for (std::size_t f = 0; f < strip.box.frames.size(); ++f) {
            FrameRecord frame;
            frame.number = names[s].numbers[f];
            frame.box = strip.box.frames[f];
            if (f < strip.residue.frame_area_percent.size()) frame.residue_area_percent = strip.residue.frame_area_percent[f];
            samples.push_back(sample_frame(density.density, residue.defects, frame.box, under_pictures(strip.base, strip.residue), strip.base.base_ir.value,
                                           factor, layout.scale));
            frame.histogram = density_histogram(samples.back());
            auto defects = frame_defects_png(residue.defects, frame.box.corners, factor);
            if (!defects) return Failure(std::move(defects.error()));
            frame.defects_png = std::move(*defects);
            strip.frames.push_back(std::move(frame));
        }
        sheet.record.strips.push_back(std::move(strip));
        sheet.samples.push_back(std::move(samples));
    }
    return {};
}

/// In a layout given by hand a frame may have been deleted, or an edge moved inwards, while the picture is still there. Film in the pictures' band
/// that is no usual gap between two frames, nor the first millimetres beyond the outer ones, may be such a picture: it is neither
/// base nor carries residue that could be told.
void doubt_unlisted_film(RegionMap& regions, const SheetLayout& layout, int factor) {
    constexpr double kWidestGapMm = 4.0, kBeyondEndMm = 2.0;  // Chosen: twice the usual gap, and once; safe range of both 1.5 to 2.5 times and 0.5 to 1
    const double widest_gap = to_px(Millimetres(kWidestGapMm), layout.scale) / factor, beyond_end = to_px(Millimetres(kBeyondEndMm), layout.scale) / factor;
    constexpr double kNone = 1e30;
    for (std::int64_t y = 0; y < regions.labels.height(); ++y)
        for (std::int64_t x = 0; x < regions.labels.width(); ++x) {
            const int s = regions.strip(x, y);
            if (regions.labels(x, y) != Region::clear_film || s < 0) continue;
            const PointPx here{static_cast<double>(x) + 0.5, static_cast<double>(y) + 0.5};
            bool in_band = layout.strips[static_cast<std::size_t>(s)].frames.empty(), inside_frame = false;
            double before = kNone, after = kNone;  // distance to the frames on either side
            for (const FrameBox& frame : layout.strips[static_cast<std::size_t>(s)].frames) {
                const PointPx corner = frame.corners[0] * (1.0 / factor);
                const PointPx along = frame.corners[1] * (1.0 / factor) - corner, across = frame.corners[3] * (1.0 / factor) - corner, at = here - corner;
                const double width = std::hypot(along.x, along.y), height = std::hypot(across.x, across.y);
                const double u = (at.x * along.x + at.y * along.y) / width, v = (at.x * across.x + at.y * across.y) / height;
                in_band = in_band || (v > 0 && v < height);
                inside_frame = inside_frame || (u >= 0 && u <= width);
                if (u > width) before = std::min(before, u - width);
                if (u < 0) after = std::min(after, -u);
            }
            const bool gap = before < kNone && after < kNone ? before + after <= widest_gap : std::min(before, after) <= beyond_end;
            if (in_band && !inside_frame && !gap) regions.labels(x, y) = Region::unsure;
        }
}

/// A strip of a layout must lie on the scan, give or take a millimetre of hand. Errors: usage.
Result<void> check_layout(const SheetLayout& layout, const Overview& overview) {
    const double slack = to_px(Millimetres(2.0), layout.scale);
    for (std::size_t s = 0; s < layout.strips.size(); ++s)
        for (const PointPx& corner : layout.strips[s].corners)
            if (corner.x < -slack || corner.y < -slack || corner.x > static_cast<double>(overview.scan_width) + slack ||
                corner.y > static_cast<double>(overview.scan_height) + slack)
                return fail(ErrorCode::usage, "strip " + std::to_string(s + 1) + " of the layout reaches beyond the scan", {},
                            "move its corners onto the scan, which is " + std::to_string(overview.scan_width) + " x " + std::to_string(overview.scan_height) +
                                " pixels");
    return {};
}

/// Everything after the overview is read; pure but for the defect map it writes.
Result<void> measure_overview(MeasuredSheet& sheet, const SheetPlan& plan, const Overview& overview, const RunOptions& options, const MapPlace& map,
                              std::vector<Finding>& findings) {
    FindOptions find = options.find;
    if (find.format == FrameFormat::automatic && plan.sheet && plan.sheet->format) find.format = *plan.sheet->format;
    find.close_up = plan.close_up;
    SheetLayout layout;
    if (plan.layout) {
        layout = plan.layout->layout;
        if (auto valid = check_layout(layout, overview); !valid) return valid;
    } else {
        auto found = find_frames(overview, find, on_all_threads());
        if (!found) return Failure(std::move(found.error()));
        layout = std::move(*found);
    }
    std::vector<Finding> sheet_findings = std::move(layout.findings);
    if (!plan.layout) {
        for (StripBox& strip : layout.strips) strip.edge_print = read_edge_print(overview, strip, layout.scale);
        if (plan.strip_shots) keep_whole_frames(layout, plan, overview, sheet_findings);
        orient_strips(plan, layout, sheet_findings);
    }
    const std::vector<StripNaming> names = name_strips(plan, layout, sheet_findings);
    RegionMap regions = label_regions(overview, layout, find);
    if (plan.layout) doubt_unlisted_film(regions, layout, overview.factor);
    auto density = measure_density(overview, layout, regions, options.density);
    if (!density) return Failure(std::move(density.error()));
    ResidueOptions residue_options = options.residue;
    residue_options.stock_of_strip = stocks_of(names, options);
    auto residue = measure_residue(overview, layout, regions, *density, residue_options, on_all_threads());
    if (!residue) return Failure(std::move(residue.error()));

    if (!map.absolute.empty())
        if (auto written = write_defect_map(*residue, overview, map); !written) return written;
    auto picture = overview_jpeg(overview, kOverviewLongSide);
    if (!picture) return Failure(std::move(picture.error()));
    auto overlay = residue_png(*residue, kOverviewLongSide);
    if (!overlay) return Failure(std::move(overlay.error()));

    ScanRecord& record = sheet.record;
    record.overview_jpeg = std::move(*picture);
    record.residue_png = std::move(*overlay);
    record.defect_map = map.relative;
    record.scale = layout.scale;
    record.scale_origin = layout.scale_origin;
    record.relative_densities = density->relative;
    record.shots = shot_records(plan, layout.scale);
    sheet.light = density->light;
    sheet.overview_factor = overview.factor;
    sheet.infrared = residue->infrared;
    if (auto filled = fill_strips(sheet, layout, names, *density, *residue, overview.factor); !filled) return filled;
    for (std::vector<Finding>* list : {&sheet_findings, &density->findings, &residue->findings}) place_findings(std::move(*list), plan, record, findings);
    if (options.positives && options.mend.mode != MendMode::off) sheet.defects = std::move(residue->defects);
    return {};
}

}  // namespace

Result<MeasuredSheet> measure_sheet(const Plan& plan, int index, const RunOptions& options, const MapPlace& map, std::vector<Finding>& findings,
                                    Observer& observer) {
    const SheetPlan& sheet_plan = plan.sheets[static_cast<std::size_t>(index)];
    MeasuredSheet sheet;
    sheet.plan = index;
    sheet.record.file = sheet_plan.file;
    const auto record_failure = [&](Error error) -> Result<MeasuredSheet> {
        if (error.code == ErrorCode::interrupted || error.code == ErrorCode::unwritable) return Failure(std::move(error));
        if (error.path.empty()) error.path = sheet_plan.path;
        observer.notice(describe(error));
        sheet.record.failure = std::move(error);
        return std::move(sheet);
    };
    if (sheet_plan.unusable) return record_failure(*sheet_plan.unusable);
    sheet.stamps = stamps_of(sheet_plan);
    auto looked = look(sheet_plan, options, observer);
    if (!looked) return record_failure(std::move(looked.error()));
    if (stamps_of(sheet_plan) != sheet.stamps)
        return record_failure(
            {ErrorCode::unreadable, "was changed while it was read", sheet_plan.path, "leave the scan alone while it is worked on, and run again"});
    sheet.record.info = looked->info;
    if (auto measured = measure_overview(sheet, sheet_plan, looked->overview, options, map, findings); !measured)
        return record_failure(std::move(measured.error()));
    note_scan(sheet.record.info, sheet_plan, findings);
    return sheet;
}

}  // namespace basefog::pipeline
