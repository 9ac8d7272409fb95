// SPDX-License-Identifier: GPL-3.0-or-later
#include "strip_shots.h"

#include "camera.h"
#include "workers.h"

#include "basefog/frames/measure_lens.h"
#include "basefog/frames/register_shots.h"
#include "basefog/scan/reader.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <optional>
#include <string>
#include <tuple>
#include <utility>

namespace basefog::pipeline {
namespace {

constexpr std::size_t kLensShots = 6;  // as of close-ups
/// Shots must share this much of their length along the strip. Chosen: less holds too few places to fit them by.
constexpr double kLeastOverlap = 0.04;
constexpr double kMostScale = 0.05;    // by which two shots may differ in scale, as a logarithm; more is another set-up
constexpr double kToldScale = 0.01;    // a difference worth telling. Chosen: a touched focus changes less
constexpr double kDoubtfulMm = 0.05;   // residual of a join. Chosen: half of what a join must hold
constexpr double kMostMm = 0.5;        // a join further off is none
constexpr double kLeastAcrossMm = 25;  // of the strip that all shots must show: the pictures
constexpr double kPitchMm = 4.75;      // [SMPTE139]; the short pitch is a fifth of a per cent less

const char* const kJoinHint = "photograph a strip from one end to the other, neither camera nor light touched, each shot sharing a quarter with the one before";

Finding finding_of(const SheetPlan& sheet, Severity severity, std::string code, std::string message) {
    Finding finding{severity, std::move(code), std::move(message), {}, {}};
    finding.where.scan = sheet.file;
    const std::vector<std::string> rolls = rolls_on(sheet);
    if (!rolls.empty()) finding.where.roll = rolls.front();
    return finding;
}

/// Shots of one strip with several settings, and a light frame that was taken otherwise.
void compare_settings(const SheetPlan& sheet, std::vector<Finding>& findings) {
    const auto first = info_of(sheet.path, sheet.scan);
    if (!first) return;
    std::size_t others = 0;
    std::string differ;
    for (const ShotFiles& shot : sheet.scan.further_shots) {
        const auto info = info_of(shot.path, sheet.scan);
        if (!info) continue;
        const std::string here = differences(first->settings, info->settings);
        if (!here.empty() && others++ == 0) differ = here;
    }
    if (others > 0) {
        Finding finding =
            finding_of(sheet, Severity::caution, "mixed-settings",
                       fmt::format("{} of this strip's {} shots were taken with other settings than the first: {}. They are levelled by what they share; "
                                   "keep shutter, aperture and sensitivity for a whole roll.",
                                   others, sheet.shots.size(), differ));
        finding.numbers = {{"shots", static_cast<double>(sheet.shots.size())}, {"other", static_cast<double>(others)}};
        findings.push_back(std::move(finding));
    }
    if (sheet.scan.light_frame_path.empty()) return;
    const auto light = info_of(sheet.scan.light_frame_path, sheet.scan);
    if (!light) return;  // opening tells
    const std::string against = differences(first->settings, light->settings);
    if (against.empty()) return;
    const double stops = more_exposure(first->settings, light->settings);
    Finding finding = finding_of(sheet, Severity::serious, "light-frame-settings", light_frame_words(against, stops));
    finding.numbers = {{"stops", stops}};
    findings.push_back(std::move(finding));
}

Result<ShotLook> look_at(StripShots& shots, std::size_t shot, const RunOptions& options) {
    auto reader = shots.open(shot);
    if (!reader) return Failure(std::move(reader.error()));
    const OverviewOptions wanted = close_up_overview(options.overview);
    (*reader)->will_average(overview_factor((*reader)->info(), wanted));
    auto overview = read_overview(**reader, wanted, silent_observer(), on_all_threads());
    if (!overview) return Failure(std::move(overview.error()));
    overview->scan_resolution.reset();
    return look_at_shot(std::move(*overview));
}

/// What is left of a look when its pixels are not needed any more: enough for a glance.
ShotLook glance_only(ShotLook look) {
    look.overview.pixels = {};
    return look;
}

/// Why a shot shares too little with the one before: perhaps it goes elsewhere.
Error no_overlap(const std::vector<ShotLook>& before, const ShotLook& shot, const StripShots& shots, std::size_t index) {
    std::optional<std::size_t> other;
    double best = 0;
    for (std::size_t i = 0; i + 1 < before.size(); ++i) {
        const ShotMatch match = glance(before[i], shot);
        if (match.found && match.sureness > best) best = match.sureness, other = i;
    }
    if (other)
        return {ErrorCode::malformed,
                "shows no part of what the shot before it, " + shots.path(index - 1) + ", shows, but of what " + shots.path(*other) + " shows",
                shots.path(index), "name the shots of a strip in their order along it"};
    return {ErrorCode::malformed,
            "shares too little with the shot before it, " + shots.path(index - 1) +
                ": they show different film, overlap by too little, or what they share has neither picture nor print in it",
            shots.path(index), kJoinHint};
}

void record_shots(SheetPlan& sheet, const JoinedShots& joined) {
    sheet.joined.clear();
    for (std::size_t i = 0; i < sheet.shots.size(); ++i) {
        ShotRecord record;
        record.file = sheet.shots[i];
        if (i > 0) {
            const JoinedShots::Overlap& o = joined.overlaps[i - 1];
            record.overlap = Millimetres(o.along_px), record.residual = Millimetres(o.off_px);  // pixels until the scale is known
            record.scale = o.scale, record.turned_deg = o.turned_deg, record.level = o.level;
        }
        sheet.joined.push_back(std::move(record));
    }
}

void tell_lens(const SheetPlan& sheet, const JoinedShots& joined, std::vector<Finding>& findings) {
    if (!joined.lens_told) return;
    Finding finding =
        finding_of(sheet, Severity::note, "lens-straightened",
                   fmt::format("The lens bends straight lines {}, by up to {:.1f} pixels; told from {} perforations and from what this strip's {} shots "
                               "share, and undone on all of them.",
                               joined.lens.k1 < 0 ? "outwards" : "inwards", joined.lens_px, joined.holes, sheet.shots.size()));
    finding.numbers = {{"k1", joined.lens.k1}, {"k2", joined.lens.k2}, {"bent_px", joined.lens_px}, {"shots", static_cast<double>(sheet.shots.size())}};
    findings.push_back(std::move(finding));
}

void tell_of_falloff(const SheetPlan& sheet, const JoinedShots& joined, std::int64_t width, std::int64_t height, std::vector<Finding>& findings) {
    double least = 1;
    const auto w = static_cast<double>(width), h = static_cast<double>(height);
    for (const PointPx corner : {PointPx{0, 0}, PointPx{w, 0}, PointPx{0, h}, PointPx{w, h}})
        for (const double light : joined.join.falloff->at(corner, width, height)) least = std::min(least, light);
    constexpr double kUnsure = 0.02;  // density
    Finding finding =
        finding_of(sheet, joined.falloff_std > kUnsure ? Severity::caution : Severity::note, "falloff-estimated",
                   fmt::format("These shots have no light frame. How light falls off to their corners, by up to {:.0f} %, was told from bare light in the "
                               "perforations and from film that two shots show; at the corners that is known to {:.3f} of density. A shot of the "
                               "bare light, named as the light frame, is more exact.",
                               100 * (1 - least), joined.falloff_std));
    finding.numbers = {{"corner", 1 - least}, {"std_density", joined.falloff_std}};
    findings.push_back(std::move(finding));
}

void tell_of_join(const SheetPlan& sheet, const JoinedShots& joined, std::int64_t width, std::int64_t height, std::vector<Finding>& findings) {
    tell_lens(sheet, joined, findings);
    // Without perforations: a shot as wide as one usually is.
    constexpr double kUsualWidthMm = 54;
    const double px_per_mm = joined.join.about ? joined.join.about->value() : static_cast<double>(width) / kUsualWidthMm;
    if (joined.holes == 0)
        findings.push_back(
            finding_of(sheet, Severity::note, "join-by-picture-alone",
                       "No row of whole perforations is in view on these shots: they were joined by what they share of the pictures alone, each on "
                       "the one before. Shots that show the perforations are held to them over the whole strip."));
    for (std::size_t i = 0; i < joined.overlaps.size(); ++i) {
        const JoinedShots::Overlap& o = joined.overlaps[i];
        const double off = o.off_px / px_per_mm;
        if (off > kDoubtfulMm) {
            Finding finding =
                finding_of(sheet, Severity::caution, "join-uncertain",
                           fmt::format("{} and {} show what both show {:.2f} mm apart: film that is not flat, or that moved while it was taken. The "
                                       "picture may be soft or doubled where they meet.",
                                       sheet.shots[i], sheet.shots[i + 1], off));
            finding.numbers = {{"apart_mm", off}};
            findings.push_back(std::move(finding));
        }
        if (std::abs(std::log(o.scale)) > kToldScale) {
            Finding finding = finding_of(sheet, Severity::caution, "shots-scale-differs",
                                         fmt::format("{} shows the film {:.1f} % {} than {}: camera or focus were moved. They are brought to one scale.",
                                                     sheet.shots[i + 1], 100 * std::abs(1 / o.scale - 1), o.scale < 1 ? "larger" : "smaller", sheet.shots[i]));
            finding.numbers = {{"scale", o.scale}};
            findings.push_back(std::move(finding));
        }
    }
    if (joined.join.falloff) tell_of_falloff(sheet, joined, width, height, findings);
    if (sheet.scan.light_frame_path.empty() && !joined.join.falloff)
        findings.push_back(finding_of(sheet, Severity::caution, "shots-without-light-frame",
                                      "These shots have no light frame, and too little of bare light and of the same film in two places is in view to tell how "
                                      "light falls off within each: it stays in the joined strip, lighter in the middle of each shot. Take a shot of the bare "
                                      "light and name it as the light frame."));
}

/// What speaks against a join; nothing where all is well.
std::optional<Error> wrong_with(const JoinedShots& joined, const StripShots& shots, std::int64_t width, std::int64_t height) {
    const auto along = static_cast<double>(joined.direction == StripDirection::horizontal ? width : height);
    for (std::size_t i = 0; i < joined.overlaps.size(); ++i) {
        const JoinedShots::Overlap& o = joined.overlaps[i];
        if (o.along_px < kLeastOverlap * along)
            return Error{ErrorCode::malformed, fmt::format("overlaps {} by {:.0f} pixels only", shots.path(i), o.along_px), shots.path(i + 1), kJoinHint};
        if (std::abs(std::log(o.scale)) > kMostScale)
            return Error{ErrorCode::malformed,
                         fmt::format("shows the film {:.0f} % {} than {}", 100 * std::abs(1 / o.scale - 1), o.scale < 1 ? "larger" : "smaller", shots.path(i)),
                         shots.path(i + 1), "join only shots taken from one distance"};
        if (joined.join.about && o.off_px / joined.join.about->value() > kMostMm)
            return Error{ErrorCode::malformed,
                         fmt::format("lies {:.2f} mm off {} where both show the same film", o.off_px / joined.join.about->value(), shots.path(i)),
                         shots.path(i + 1), "lay the film flat, and take the shots again"};
    }
    if (!joined.in_order)
        return Error{ErrorCode::malformed, "this strip's shots go to and fro along it", shots.path(0), "name the shots of a strip in their order along it"};
    const double least = joined.join.about ? kLeastAcrossMm * joined.join.about->value() : 0.4 * static_cast<double>(std::min(width, height));
    if (joined.common_across_px < least || joined.join.height < 1)
        return Error{ErrorCode::malformed, "this strip's shots lie so far off each other across it that they share no whole picture", shots.path(0),
                     "keep the strip in the middle of every shot"};
    return std::nullopt;
}

/// Errors: interrupted; what is wrong with the shots is noted in the plan.
Result<void> prepare_joined(SheetPlan& sheet, const RunOptions& options, std::vector<Finding>& findings, Observer& observer) {
    const auto shots = strip_shots(sheet.path, sheet.scan, observer);
    std::vector<ShotHoles> holes;
    std::vector<ShotMatch> matches;
    std::vector<ShotLook> looks;  // the last one whole, of others what a glance needs
    std::int64_t width = 0, height = 0;
    for (std::size_t i = 0; i < shots->count(); ++i) {
        if (observer.cancelled()) return fail(ErrorCode::interrupted, "stopped while fitting shots to each other");
        observer.progress("fitting the shots of " + sheet.file, static_cast<double>(i), static_cast<double>(shots->count()));
        auto look = look_at(*shots, i, options);
        if (!look) {
            if (look.error().code == ErrorCode::interrupted) return Failure(std::move(look.error()));
            sheet.unusable = std::move(look.error());
            return {};
        }
        width = look->overview.scan_width, height = look->overview.scan_height;
        if (i > 0) {
            ShotMatch match = match_shots(looks.back(), *look);
            if (!match.found) {
                sheet.unusable = no_overlap(looks, *look, *shots, i);
                return {};
            }
            matches.push_back(std::move(match));
            looks.back() = glance_only(std::move(looks.back()));
        }
        holes.push_back(look->holes);
        looks.push_back(std::move(*look));
    }
    looks.clear();
    JoinedShots joined = join_shots(holes, matches, width, height, !sheet.scan.light_frame_path.empty());
    sheet.unusable = wrong_with(joined, *shots, width, height);
    if (sheet.unusable) return {};
    record_shots(sheet, joined);
    tell_of_join(sheet, joined, width, height, findings);
    sheet.scan.lens = joined.lens;
    sheet.about = joined.join.about;
    sheet.scan.join = std::move(joined.join);
    return {};
}

/// The rows of perforations on a shot, as things that are straight.
std::vector<StraightThing> rows_of(const ShotHoles& holes, int factor) {
    std::array<StraightThing, 2> rows;
    for (std::size_t i = 0; i < holes.at.size(); ++i) {
        StraightThing& row = rows[static_cast<std::size_t>(holes.row[i])];
        row.points.push_back(holes.at[i]);
        row.places.push_back(holes.place[i]);
    }
    std::vector<StraightThing> out;
    constexpr double kOfHole = 0.15;  // overview pixels: as of close-ups
    for (StraightThing& row : rows) {
        row.std_px = kOfHole * factor;
        if (row.points.size() >= 4) out.push_back(std::move(row));
    }
    return out;
}

/// Shots that each show whole frames: their lens, told from some of them.
Result<void> prepare_single(Plan& plan, const std::vector<int>& sheets, const RunOptions& options, std::vector<Finding>& findings, Observer& observer) {
    std::vector<StraightThing> things;
    std::int64_t width = 0, height = 0;
    std::optional<PixelsPerMm> about;
    std::size_t used = 0;
    const std::size_t n = std::min(kLensShots, sheets.size());
    for (std::size_t i = 0; i < n; ++i) {
        if (observer.cancelled()) return fail(ErrorCode::interrupted, "stopped while telling the lens");
        const SheetPlan& sheet = plan.sheets[static_cast<std::size_t>(sheets[i * sheets.size() / n])];
        observer.progress("looking at the lens in " + sheet.file, static_cast<double>(i), static_cast<double>(n));
        ScanOptions bare = sheet.scan;
        bare.light_frame_path.clear(), bare.dark_frame_path.clear(), bare.other_exposures.clear();  // holes are where they are in any light
        const auto shots = strip_shots(sheet.path, bare, observer);
        const auto look = look_at(*shots, 0, options);
        if (!look) continue;  // the measuring tells
        width = look->overview.scan_width, height = look->overview.scan_height;
        std::vector<StraightThing> more = rows_of(look->holes, look->overview.factor);
        if (more.empty()) continue;
        ++used;
        about = PixelsPerMm(look->holes.pitch_px / kPitchMm);
        std::move(more.begin(), more.end(), std::back_inserter(things));
    }
    for (const int index : sheets) plan.sheets[static_cast<std::size_t>(index)].about = about;
    if (things.empty()) return {};
    const LensFit fit = fit_lens(things, width, height);
    if (!fit.told) return {};
    for (const int index : sheets) plan.sheets[static_cast<std::size_t>(index)].scan.lens = fit.lens;
    Finding finding = lens_finding(fit, fmt::format("{} rows of perforations", fit.things), used);
    finding.where = finding_of(plan.sheets[static_cast<std::size_t>(sheets.front())], Severity::note, {}, {}).where;
    findings.push_back(std::move(finding));
    return {};
}

}  // namespace

Result<void> prepare_strips(Plan& plan, const std::vector<int>& group, const RunOptions& options, std::vector<Finding>& findings, Observer& observer) {
    /// Shots by one camera, at one distance: of a roll, of one size.
    std::map<std::tuple<std::string, std::string, std::int64_t, std::int64_t>, std::vector<int>> single;
    for (const int index : group) {
        SheetPlan& sheet = plan.sheets[static_cast<std::size_t>(index)];
        if (!sheet.strip_shots || sheet.scan.join) continue;
        compare_settings(sheet, findings);
        if (!sheet.scan.further_shots.empty()) {
            if (auto prepared = prepare_joined(sheet, options, findings, observer); !prepared) return prepared;
        } else if (const auto info = info_of(sheet.path, sheet.scan)) {
            const std::vector<std::string> rolls = rolls_on(sheet);
            single[{rolls.empty() ? std::string() : rolls.front(), info->settings.camera, info->width, info->height}].push_back(index);
        }
    }
    for (const auto& [key, sheets] : single)
        if (auto prepared = prepare_single(plan, sheets, options, findings, observer); !prepared) return prepared;
    return {};
}

void keep_whole_frames(SheetLayout& layout, const SheetPlan& plan, const Overview& overview, std::vector<Finding>& findings) {
    const double slack = 2.0 * overview.factor;  // of an edge's place
    const auto w = static_cast<double>(overview.scan_width), h = static_cast<double>(overview.scan_height);
    int cut = 0, whole = 0;
    for (StripBox& strip : layout.strips) {
        cut += static_cast<int>(std::erase_if(strip.frames, [&](const FrameBox& frame) {
            return frame.cut_off && std::any_of(frame.corners.begin(), frame.corners.end(),
                                                [&](const PointPx& p) { return p.x < slack || p.y < slack || p.x > w - slack || p.y > h - slack; });
        }));
        whole += static_cast<int>(strip.frames.size());
    }
    if (cut > 0) {
        Finding finding = finding_of(plan, Severity::note, "frame-cut-by-shot",
                                     fmt::format("{} at this shot's border {} not whole on it and {} left out.",
                                                 cut == 1 ? "A frame" : fmt::format("{} frames", cut), cut == 1 ? "is" : "are", cut == 1 ? "was" : "were"));
        finding.numbers = {{"frames", static_cast<double>(cut)}};
        findings.push_back(std::move(finding));
    }
    const int told = plan.sheet ? plan.sheet->frames_each : 0;
    if (told == 0 || whole == told) return;
    Finding finding =
        finding_of(plan, whole > told ? Severity::caution : Severity::note, "frame-count-differs",
                   fmt::format("{} whole frames were found on this shot, where the ledger tells of {} on each; frames of the next are counted by that. "
                               "The last shot of a roll may show fewer.",
                               whole, told));
    finding.numbers = {{"found", static_cast<double>(whole)}, {"told", static_cast<double>(told)}};
    findings.push_back(std::move(finding));
}

std::vector<ShotRecord> shot_records(const SheetPlan& plan, PixelsPerMm scale) {
    std::vector<ShotRecord> shots = plan.joined;
    for (ShotRecord& shot : shots)
        for (Millimetres* length : {&shot.overlap, &shot.residual}) *length = Millimetres(scale.value() > 0 ? length->value() / scale.value() : 0);
    return shots;
}

}  // namespace basefog::pipeline
