// SPDX-License-Identifier: GPL-3.0-or-later
#include "camera.h"

#include "workers.h"

#include "basefog/frames/find_frames.h"
#include "basefog/frames/measure_lens.h"
#include "basefog/scan/reader.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <map>
#include <set>
#include <string>
#include <tuple>
#include <utility>

namespace basefog::pipeline {
namespace {

/// Shots of a roll that its lens is told from: each has four edges. Chosen; more take longer and tell little more.
constexpr std::size_t kLensShots = 6;
/// Settings further apart than this are other settings: cameras round what they note. Chosen: a twentieth; the smallest step of cameras is a quarter.
constexpr double kSameSetting = 0.05;

bool apart(double a, double b) { return a > 0 && b > 0 && std::abs(std::log(a / b)) > kSameSetting; }

std::string shutter(double seconds) { return seconds < 0.3 ? fmt::format("1/{:.0f} s", 1 / seconds) : fmt::format("{:.3g} s", seconds); }

}  // namespace

std::optional<ScanInfo> info_of(const std::string& path, const ScanOptions& options) {
    ScanOptions bare = options;
    bare.light_frame_path.clear(), bare.dark_frame_path.clear(), bare.infrared_path.clear(), bare.other_exposures.clear(), bare.further_shots.clear(),
        bare.join.reset();
    auto reader = open_scan(path, bare);
    if (!reader) return std::nullopt;
    return (*reader)->info();
}

std::string differences(const CameraSettings& a, const CameraSettings& b) {
    std::string text;
    const auto add = [&](const std::string& what) { text += (text.empty() ? "" : ", ") + what; };
    if (apart(a.seconds, b.seconds)) add(shutter(a.seconds) + " against " + shutter(b.seconds));
    if (apart(a.f_number, b.f_number)) add(fmt::format("f/{:.3g} against f/{:.3g}", a.f_number, b.f_number));
    if (apart(a.iso, b.iso)) add(fmt::format("ISO {:.0f} against ISO {:.0f}", a.iso, b.iso));
    return text;
}

double more_exposure(const CameraSettings& a, const CameraSettings& b) {
    double stops = 0;
    if (a.seconds > 0 && b.seconds > 0) stops += std::log2(b.seconds / a.seconds);
    if (a.f_number > 0 && b.f_number > 0) stops -= 2 * std::log2(b.f_number / a.f_number);
    if (a.iso > 0 && b.iso > 0) stops += std::log2(b.iso / a.iso);
    return stops;
}

std::string light_frame_words(const std::string& differ, double stops) {
    const std::string how = fmt::format("The light frame was taken with other settings than the film: {}. ", differ);
    constexpr double kCancelled = 0.07;  // stops: .02 in density
    if (std::abs(stops) < kCancelled) return how + "By what the camera notes they cancel out; take the light frame again as the film was taken, to be sure.";
    return how + fmt::format("By what the camera notes, all densities read {:.2f} too {}. Take the light frame again as the film was taken.",
                             std::abs(stops) * std::log10(2.0), stops > 0 ? "high" : "low");
}

Finding lens_finding(const LensFit& fit, const std::string& things, std::size_t shots) {
    Finding finding{Severity::note,
                    "lens-straightened",
                    fmt::format("The lens bends straight lines {}, by up to {:.1f} pixels; told from {} on {} of this roll's shots, and undone on all of them.",
                                fit.lens.k1 < 0 ? "outwards" : "inwards", fit.bent_px, things, shots),
                    {},
                    {}};
    finding.numbers = {{"k1", fit.lens.k1}, {"k2", fit.lens.k2}, {"k1_std", fit.std_k1}, {"bent_px", fit.bent_px}, {"shots", static_cast<double>(shots)}};
    return finding;
}

namespace {

struct RollOfShots {
    std::string roll;
    std::vector<int> sheets;  ///< indices into Plan::sheets
    std::vector<ScanInfo> infos;
};

/// The group's close-ups that can be opened, by roll, in order of first shot.
std::vector<RollOfShots> shots_of(const Plan& plan, const std::vector<int>& group) {
    std::vector<RollOfShots> rolls;
    for (const int index : group) {
        const SheetPlan& sheet = plan.sheets[static_cast<std::size_t>(index)];
        if (!sheet.close_up) continue;
        auto info = info_of(sheet.path, sheet.scan);
        if (!info) continue;
        const std::vector<std::string> told = rolls_on(sheet);
        const std::string roll = told.empty() ? std::string() : told.front();
        auto known = std::find_if(rolls.begin(), rolls.end(), [&](const RollOfShots& r) { return r.roll == roll; });
        if (known == rolls.end()) known = rolls.insert(rolls.end(), RollOfShots{roll, {}, {}});
        known->sheets.push_back(index);
        known->infos.push_back(std::move(*info));
    }
    return rolls;
}

Finding finding_of(const Plan& plan, const RollOfShots& roll, std::size_t shot, Severity severity, std::string code, std::string message) {
    Finding finding{severity, std::move(code), std::move(message), {}, {}};
    finding.where.scan = plan.sheets[static_cast<std::size_t>(roll.sheets[shot])].file;
    finding.where.roll = roll.roll;
    return finding;
}

Finding light_frame_finding(const Plan& plan, const RollOfShots& roll, const std::vector<std::size_t>& shots, const std::string& differ,
                            const ScanInfo& light) {
    const double stops = more_exposure(roll.infos[shots.front()].settings, light.settings);
    const std::string which =
        shots.size() == roll.sheets.size() ? "" : fmt::format(" This goes for {} of the roll's {} shots.", shots.size(), roll.sheets.size());
    Finding finding = finding_of(plan, roll, shots.front(), Severity::serious, "light-frame-settings", light_frame_words(differ, stops) + which);
    finding.numbers = {{"stops", stops}, {"shots", static_cast<double>(shots.size())}};
    return finding;
}

/// One finding for the first shot that differs from the roll's first, with how many do.
void compare_shots(const Plan& plan, const RollOfShots& roll, std::vector<Finding>& findings) {
    const ScanInfo& first = roll.infos.front();
    const std::string& first_file = plan.sheets[static_cast<std::size_t>(roll.sheets.front())].file;
    std::size_t other_camera = 0, other_settings = 0, camera_at = 0, settings_at = 0;
    for (std::size_t i = 1; i < roll.infos.size(); ++i) {
        const ScanInfo& info = roll.infos[i];
        const bool camera = info.settings.camera != first.settings.camera || info.width * info.height != first.width * first.height || info.kind != first.kind;
        if (camera && other_camera++ == 0) camera_at = i;
        if (!camera && !differences(first.settings, info.settings).empty() && other_settings++ == 0) settings_at = i;
    }
    if (other_camera > 0) {
        Finding finding =
            finding_of(plan, roll, camera_at, Severity::caution, "mixed-cameras",
                       fmt::format("{} of this roll's {} shots come from another camera, or are of another size or kind of file, than {}. Colours of two "
                                   "cameras do not compare; photograph a roll with one.",
                                   other_camera, roll.infos.size(), first_file));
        finding.numbers = {{"shots", static_cast<double>(roll.infos.size())}, {"other", static_cast<double>(other_camera)}};
        findings.push_back(std::move(finding));
    }
    if (other_settings > 0) {
        const CameraSettings& other = roll.infos[settings_at].settings;
        Finding finding =
            finding_of(plan, roll, settings_at, Severity::caution, "mixed-settings",
                       fmt::format("{} of this roll's {} shots were taken with other settings than {}: {}. Densities and exposures of its frames compare only "
                                   "as far as a light frame was taken with each; keep shutter, aperture and sensitivity for a whole roll.",
                                   other_settings, roll.infos.size(), first_file, differences(first.settings, other)));
        finding.numbers = {
            {"shots", static_cast<double>(roll.infos.size())}, {"other", static_cast<double>(other_settings)}, {"stops", more_exposure(first.settings, other)}};
        findings.push_back(std::move(finding));
    }
}

/// A light frame taken otherwise than shots puts their densities off, all by the same amount: one finding for each light frame and difference.
void compare_light_frames(const Plan& plan, const RollOfShots& roll, std::vector<Finding>& findings) {
    std::map<std::string, std::optional<ScanInfo>> lights;
    std::map<std::pair<std::string, std::string>, std::vector<std::size_t>> off;  // light frame and difference, and the shots
    for (std::size_t i = 0; i < roll.sheets.size(); ++i) {
        const SheetPlan& sheet = plan.sheets[static_cast<std::size_t>(roll.sheets[i])];
        const std::string& path = sheet.scan.light_frame_path;
        if (path.empty()) continue;
        const auto known = lights.find(path);
        const auto& light = known != lights.end() ? known->second : lights.emplace(path, info_of(path, sheet.scan)).first->second;
        if (!light) continue;  // the measuring tells
        const std::string differ = differences(roll.infos[i].settings, light->settings);
        if (!differ.empty()) off[{path, differ}].push_back(i);
    }
    for (const auto& [what, shots] : off) findings.push_back(light_frame_finding(plan, roll, shots, what.second, *lights.at(what.first)));
}

/// Shots without a light frame are measured by the light that they show themselves.
void tell_of_falloff(const Plan& plan, const RollOfShots& roll, std::vector<Finding>& findings) {
    const auto without = [&](int sheet) { return plan.sheets[static_cast<std::size_t>(sheet)].scan.light_frame_path.empty(); };
    const auto first = std::find_if(roll.sheets.begin(), roll.sheets.end(), without);
    if (first == roll.sheets.end()) return;
    const auto count = std::count_if(roll.sheets.begin(), roll.sheets.end(), without);
    Finding finding = finding_of(
        plan, roll, static_cast<std::size_t>(first - roll.sheets.begin()), Severity::note, "falloff-estimated",
        fmt::format("{} of this roll's {} shots have no light frame: how light falls off is estimated on each from the perforations and the clear film it "
                    "shows, as a smooth field. A shot of the bare light would tell it everywhere, and the dirt on the glass.",
                    count, roll.sheets.size()));
    finding.numbers = {{"shots", static_cast<double>(roll.sheets.size())}, {"without", static_cast<double>(count)}};
    findings.push_back(std::move(finding));
}

/// What is straight on one shot; nothing where it cannot be read or shows no frame.
std::vector<StraightThing> straight_on(const SheetPlan& sheet, const RunOptions& options) {
    ScanOptions bare = sheet.scan;
    // Edges are where they are in any light.
    bare.light_frame_path.clear(), bare.dark_frame_path.clear(), bare.infrared_path.clear(), bare.other_exposures.clear();
    bare.ignore_infrared = true;
    bare.from_the_top = true;
    auto reader = open_scan(sheet.path, bare);
    if (!reader) return {};
    const OverviewOptions wanted = close_up_overview(options.overview);
    (*reader)->will_average(overview_factor((*reader)->info(), wanted));
    const auto overview = read_overview(**reader, wanted, silent_observer(), on_all_threads());
    if (!overview) return {};
    FindOptions find = options.find;
    if (find.format == FrameFormat::automatic && sheet.sheet && sheet.sheet->format) find.format = *sheet.sheet->format;
    find.close_up = true;
    const auto layout = find_frames(*overview, find);
    if (!layout) return {};
    return trace_straight(*overview, *layout);
}

/// A lens at one distance: shots of one camera and size.
using LensKey = std::tuple<std::string, std::int64_t, std::int64_t>;

Result<void> tell_lens(Plan& plan, const RollOfShots& roll, const std::vector<std::size_t>& shots, const RunOptions& options, std::vector<Finding>& findings,
                       Observer& observer) {
    std::vector<StraightThing> things;
    std::size_t used = 0;
    const std::size_t n = std::min(kLensShots, shots.size());
    for (std::size_t i = 0; i < n; ++i) {
        if (observer.cancelled()) return fail(ErrorCode::interrupted, "stopped while telling the lens");
        const SheetPlan& sheet = plan.sheets[static_cast<std::size_t>(roll.sheets[shots[i * shots.size() / n]])];
        observer.progress("looking at the lens in " + sheet.file, static_cast<double>(i), static_cast<double>(n));
        std::vector<StraightThing> more = straight_on(sheet, options);
        if (!more.empty()) ++used;
        std::move(more.begin(), more.end(), std::back_inserter(things));
    }
    const ScanInfo& info = roll.infos[shots.front()];
    const LensFit fit = fit_lens(things, info.width, info.height);
    if (!fit.told) return {};
    for (const std::size_t i : shots) plan.sheets[static_cast<std::size_t>(roll.sheets[i])].scan.lens = fit.lens;
    Finding finding = lens_finding(fit, fmt::format("{} edges and rows of perforations", fit.things), used);
    finding.where = finding_of(plan, roll, shots.front(), Severity::note, {}, {}).where;
    findings.push_back(std::move(finding));
    return {};
}

}  // namespace

OverviewOptions close_up_overview(OverviewOptions wanted) {
    // A camera states no resolution that means anything; a frame 1500 pixels long is 24 micrometres to the pixel, and plenty.
    constexpr std::int64_t kCloseUpPixels = 1'500'000;
    wanted.target_dpi = 1e9;
    wanted.max_pixels = std::min(wanted.max_pixels, kCloseUpPixels);
    return wanted;
}

Result<void> prepare_close_ups(Plan& plan, const std::vector<int>& group, const RunOptions& options, std::vector<Finding>& findings, Observer& observer) {
    for (const RollOfShots& roll : shots_of(plan, group)) {
        compare_shots(plan, roll, findings);
        compare_light_frames(plan, roll, findings);
        tell_of_falloff(plan, roll, findings);
        std::map<LensKey, std::vector<std::size_t>> by_lens;
        for (std::size_t i = 0; i < roll.sheets.size(); ++i) {
            const ScanInfo& info = roll.infos[i];
            if (!plan.sheets[static_cast<std::size_t>(roll.sheets[i])].scan.lens) by_lens[{info.settings.camera, info.width, info.height}].push_back(i);
        }
        for (const auto& [key, shots] : by_lens)
            if (auto told = tell_lens(plan, roll, shots, options, findings, observer); !told) return told;
    }
    return {};
}

}  // namespace basefog::pipeline
