// SPDX-License-Identifier: GPL-3.0-or-later
// One invented film seen both ways: on a flatbed, and frame by frame by a camera with a mosaic, a lens that bends and darkens the corners, and noise.
// The same pictures, densities and exposures must come out.
#include "pipeline/camera.h"
#include "pipeline/measure_sheet.h"

#include "basefog/invert/colour.h"
#include "basefog/ledger/read_ledger.h"
#include "basefog/pipeline/run.h"

#include "support/synthetic_camera.h"
#include "support/synthetic_files.h"
#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <opencv2/imgcodecs.hpp>
#include <opencv2/imgproc.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <stdexcept>
#include <vector>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

constexpr double kFilmDpi = 600, kStripX = 8, kStripY = 8;
constexpr int kFrames = 3;

synthetic::SheetSpec film_spec() {
    using synthetic::SceneKind;
    synthetic::SheetSpec spec;
    spec.dpi = kFilmDpi;
    synthetic::StripSpec strip;
    strip.roll = "A";
    strip.x = kStripX, strip.y = kStripY;
    strip.gap_jitter = 0.08;
    strip.residue.spots_per_frame = 25;
    const std::array<SceneKind, kFrames> scenes{SceneKind::hills, SceneKind::still_life, SceneKind::chart};
    for (int f = 0; f < kFrames; ++f) {
        synthetic::FrameSpec frame;
        frame.scene.kind = scenes[static_cast<std::size_t>(f)];
        frame.number = f + 1;
        frame.stops = 0.5 * f;
        strip.frames.push_back(frame);
    }
    spec.strips = {strip};
    spec.width = synthetic::strip_length(strip) + 2 * kStripX;
    spec.height = 35 + 2 * kStripY;
    return spec;
}

/// The film and nothing else: its transmittance, with its grain.
synthetic::Sheet bare_film() {
    synthetic::SheetSpec spec = film_spec();
    spec.scanner.white = 1;
    spec.scanner.falloff = spec.scanner.flare = spec.scanner.blur_px = spec.scanner.read_noise = spec.scanner.shot_noise = 0;
    spec.scanner.lean = {0, 0, 0};
    return synthetic::draw_sheet(spec);
}

synthetic::CopyCamera camera() {
    synthetic::CopyCamera camera;
    camera.width = 960, camera.height = 650;
    camera.px_per_mm = 23;
    // A pixel here stands for sixteen of a usual sensor of 24 million.
    camera.full_scale_electrons *= 16, camera.read_electrons *= 4;
    camera.lens = {-0.02, 0.004};
    camera.falloff = 0.25;
    return camera;
}

struct BothWays {
    TemporaryFolder folder;
    synthetic::Sheet film = bare_film();
    RunRecord flatbed, camera_frames;

    BothWays() {
        // Drawn as finely as the film, so that its grain is the same.
        synthetic::SheetSpec flat = film_spec();
        flat.holder.kind = synthetic::HolderKind::shows_perforations;
        synthetic::write_tiff(folder.file("sheet.tif"), synthetic::encode(synthetic::draw_sheet(flat), flat), flat.dpi);
        photograph();
        flatbed = of_sheet("flatbed", true);
        camera_frames = of_shots("camera", true);
    }
    [[nodiscard]] RunRecord of_sheet(const std::string& name, bool chart_named) const {
        return made(name, chart_named, "[[sheet]]\nfile = \"sheet.tif\"\nstrips = [ { roll = \"A\" } ]\n");
    }
    [[nodiscard]] RunRecord of_shots(const std::string& name, bool chart_named) const {
        return made(name, chart_named, "[[shots]]\nroll = \"A\"\nfiles = \"shot?.dng\"\nlight_frame = \"light.dng\"\ndark_frame = \"dark.dng\"\n");
    }
    [[nodiscard]] RunRecord made(const std::string& name, bool chart_named, const std::string& scans) const {
        const std::string path = folder.file(name + ".toml");
        std::ofstream(path) << "[stock.d250]\nbox_speed = 250\nbalance = \"daylight\"\n[roll.A]\nstock = \"d250\"\nlight = \"daylight\"\n"
                            << (chart_named ? "frames = [ { number = 3, kind = \"colour chart\" } ]\n" : "") << scans;
        auto ledger = read_ledger(path);
        if (!ledger) throw std::runtime_error(describe(ledger.error()));
        RunOptions options;
        options.ledger = std::move(*ledger);
        options.output_folder = folder.file(name);
        options.command = "invert";
        options.invert.density = true;
        options.finished = "2026-01-01T00:00:00Z";
        auto record = run(options, silent_observer());
        if (!record) throw std::runtime_error(describe(record.error()));
        return std::move(*record);
    }
    void photograph() {
        const synthetic::CopyCamera stand = camera();
        synthetic::write_bare_shot(folder.file("light.dng"), stand, 1, 100);
        synthetic::write_bare_shot(folder.file("dark.dng"), stand, 0, 101);
        const double px_per_mm = kFilmDpi / 25.4;
        for (int f = 0; f < kFrames; ++f) {
            const synthetic::Corners& corners = film.strips[0].frames[static_cast<std::size_t>(f)].corners_px;
            synthetic::CopyShot shot;
            for (const auto& corner : corners) shot.x_mm += corner[0] / px_per_mm / 4, shot.y_mm += corner[1] / px_per_mm / 4;
            shot.x_mm += 0.6 * (f - 0.5), shot.y_mm += 0.2 * (f % 2);
            shot.tilt_deg = 0.9 * f - 0.4;
            shot.seed = 200 + static_cast<std::uint64_t>(f);
            synthetic::write_shot(folder.file("shot" + std::to_string(f + 1) + ".dng"), stand, shot, film.light, px_per_mm);
        }
    }
    [[nodiscard]] static const FrameRecord& frame(const RunRecord& record, int f) {
        const std::size_t i = static_cast<std::size_t>(f);
        return record.scans.size() == 1 ? record.scans[0].strips.at(0).frames.at(i) : record.scans.at(i).strips.at(0).frames.at(0);
    }
    [[nodiscard]] cv::Mat proof(const RunRecord& record, const std::string& of, int f) const {
        const cv::Mat picture = cv::imread((fs::path(folder.file(of)) / frame(record, f).proof).string());
        cv::Mat small;
        cv::resize(picture, small, {360, 240}, 0, 0, cv::INTER_AREA);
        return small;
    }

    /// Density above base; blue, green, red.
    [[nodiscard]] cv::Mat density(const RunRecord& record, const std::string& of, int f) const {
        cv::Mat small, values;
        const cv::Mat codes = cv::imread((fs::path(folder.file(of)) / frame(record, f).density).string(), cv::IMREAD_UNCHANGED);
        cv::resize(codes, small, {360, 240}, 0, 0, cv::INTER_AREA);
        constexpr double kCodesPerDensity = 8000;  // of ADX16 [SMPTE2065-3]
        small.convertTo(values, CV_32FC3, 1 / kCodesPerDensity);
        return values;
    }
};

struct DensityDifference {
    std::array<double, 3> mean{};
    double median = 0;  ///< of absolute values, all channels
};
DensityDifference density_differences(const cv::Mat& a, const cv::Mat& b) {
    DensityDifference out;
    std::vector<double> all;
    for (int y = 3; y < a.rows - 3; ++y)
        for (int x = 3; x < a.cols - 3; ++x)
            for (int c = 0; c < 3; ++c) {
                const double d = static_cast<double>(b.at<cv::Vec3f>(y, x)[c] - a.at<cv::Vec3f>(y, x)[c]);
                out.mean[static_cast<std::size_t>(c)] += d / ((a.rows - 6) * (a.cols - 6));
                all.push_back(std::abs(d));
            }
    std::nth_element(all.begin(), all.begin() + static_cast<std::ptrdiff_t>(all.size() / 2), all.end());
    out.median = all[all.size() / 2];
    return out;
}

const BothWays& both_ways() {
    static const BothWays ways;
    return ways;
}

Lab lab_of(const cv::Vec3b& bgr) {
    const auto light = [&](int c) { return static_cast<float>(srgb_decode(bgr[c] / 255.0)); };
    return lab_from_linear_srgb({light(2), light(1), light(0)});
}

std::vector<double> differences(const cv::Mat& a, const cv::Mat& b) {
    std::vector<double> out;
    for (int y = 3; y < a.rows - 3; ++y)
        for (int x = 3; x < a.cols - 3; ++x) out.push_back(ciede2000(lab_of(a.at<cv::Vec3b>(y, x)), lab_of(b.at<cv::Vec3b>(y, x))));
    std::sort(out.begin(), out.end());
    return out;
}

void check_pictures(const BothWays& ways) {
    REQUIRE(ways.flatbed.scans.at(0).strips.size() == 1);
    REQUIRE(ways.flatbed.scans[0].strips[0].frames.size() == kFrames);
    REQUIRE(ways.camera_frames.scans.size() == kFrames);
    ResidueGrade worst = ResidueGrade::clean;
    for (int f = 0; f < kFrames; ++f) {
        const std::vector<double> off = differences(ways.proof(ways.flatbed, "flatbed", f), ways.proof(ways.camera_frames, "camera", f));
        const DensityDifference density = density_differences(ways.density(ways.flatbed, "flatbed", f), ways.density(ways.camera_frames, "camera", f));
        const FrameRecord &flat = BothWays::frame(ways.flatbed, f), &shot = BothWays::frame(ways.camera_frames, f);
        const double exposure_off = shot.exposure.offset.value.value() - flat.exposure.offset.value.value();
        CAPTURE(f, off[off.size() / 2], off[off.size() * 95 / 100], density.mean[0], density.mean[1], density.mean[2], density.median, exposure_off);
        CHECK(off[off.size() / 2] < 1.5);
        for (const double mean : density.mean) CHECK(std::abs(mean) < 0.008);
        CHECK(density.median < 0.005);
        CHECK(std::abs(exposure_off) < 0.1);
        CHECK(flat.number == shot.number);
        const StripRecord &of_sheet = ways.flatbed.scans[0].strips[0], &of_shot = ways.camera_frames.scans[static_cast<std::size_t>(f)].strips.at(0);
        for (int c = 0; c < 3; ++c) {
            CHECK(std::abs(of_sheet.base.base[c].value.value() - of_shot.base.base[c].value.value()) < 0.015);
            CHECK(std::abs(of_shot.base.base[c].value.value() - ways.film.strips[0].base_density[static_cast<std::size_t>(c)]) < 0.012);
        }
        worst = std::max(worst, of_shot.residue.grade);
    }
    // A strip is as dirty as its dirtiest part; each shot has a grade of its own.
    CHECK(ways.film.strips[0].residue_level == "trace");
    CHECK(ways.flatbed.scans[0].strips[0].residue.grade == ResidueGrade::trace);
    CHECK(worst == ways.flatbed.scans[0].strips[0].residue.grade);
}

/// The camera of these tests has the flatbed's channels, which nothing tells the program.
void check_without_chart(const BothWays& ways) {
    constexpr double kGrey = 5;
    const RunRecord sheet = ways.of_sheet("flatbed-no-chart", false), shots = ways.of_shots("camera-no-chart", false);
    CHECK(sheet.rolls.at(0).film.model.basis[0].find("through a scanner's bands") != std::string::npos);
    CHECK(shots.rolls.at(0).film.model.basis[0].find("through a camera's broad bands") != std::string::npos);
    for (int f = 0; f < kFrames; ++f) {
        const cv::Mat flat = ways.proof(sheet, "flatbed-no-chart", f), shot = ways.proof(shots, "camera-no-chart", f);
        std::vector<double> tones, greys;
        double chroma_flat = 0, chroma_shot = 0;
        for (int y = 3; y < flat.rows - 3; ++y)
            for (int x = 3; x < flat.cols - 3; ++x) {
                const Lab a = lab_of(flat.at<cv::Vec3b>(y, x)), b = lab_of(shot.at<cv::Vec3b>(y, x));
                tones.push_back(std::abs(a.L - b.L));
                if (std::hypot(a.a, a.b) < kGrey) greys.push_back(ciede2000(a, b));
                chroma_flat += std::hypot(a.a, a.b), chroma_shot += std::hypot(b.a, b.b);
            }
        const auto median = [](std::vector<double>& v) {
            std::nth_element(v.begin(), v.begin() + static_cast<std::ptrdiff_t>(v.size() / 2), v.end());
            return v[v.size() / 2];
        };
        REQUIRE(greys.size() > 100);
        CAPTURE(f, median(tones), median(greys), chroma_shot / chroma_flat);
        CHECK(median(tones) < 1.5);
        CHECK(median(greys) < 2);
        CHECK(chroma_shot / chroma_flat > 1.02);
        CHECK(chroma_shot / chroma_flat < 1.4);
    }
}

void check_what_was_done(const BothWays& ways) {
    const auto finding =
        std::find_if(ways.camera_frames.findings.begin(), ways.camera_frames.findings.end(), [](const Finding& f) { return f.code == "lens-straightened"; });
    REQUIRE(finding != ways.camera_frames.findings.end());
    for (const ScanRecord& scan : ways.camera_frames.scans) {
        CHECK(scan.info.light_divided);
        CHECK_FALSE(scan.relative_densities);
        CHECK(scan.info.settings.camera == "Invented Copy stand");
        REQUIRE(scan.info.lens);
        // Told and true lens, at the frame's corners: to a fiftieth of a millimetre.
        const synthetic::CopyCamera stand = camera();
        const LensView told(*scan.info.lens, stand.width, stand.height), truth({stand.lens.k1, stand.lens.k2}, stand.width, stand.height);
        const PointPx middle{stand.width / 2.0, stand.height / 2.0}, corner = middle + PointPx{18 * stand.px_per_mm, 12 * stand.px_per_mm},
                                                                     side = middle + PointPx{18 * stand.px_per_mm, 0};
        // A change of scale is none of the lens': the side's middle is brought to the same place.
        const double scale = (truth.seen(side).x - middle.x) / (told.seen(side).x - middle.x);
        const PointPx off = (told.seen(corner) - middle) * scale - (truth.seen(corner) - middle);
        CAPTURE(scan.info.lens->k1, scan.info.lens->k2, off.x, off.y);
        CHECK(std::hypot(off.x, off.y) < 0.02 * stand.px_per_mm);
    }
}

void check_falloff(const BothWays& ways) {
    RunOptions options;
    for (int f = 0; f < kFrames; ++f) options.scans.push_back(ways.folder.file("shot" + std::to_string(f + 1) + ".dng"));
    options.find.close_up = true;
    options.positives = false;
    auto plan = pipeline::make_plan(options);
    REQUIRE(plan);
    std::vector<Finding> findings;
    REQUIRE(pipeline::prepare_close_ups(*plan, plan->groups.at(0), options, findings, silent_observer()));
    CHECK(std::count_if(findings.begin(), findings.end(), [](const Finding& f) { return f.code == "falloff-estimated"; }) == 1);
    const synthetic::CopyCamera stand = camera();
    const double half = 0.5 * std::hypot(stand.width, stand.height);
    for (int f = 0; f < kFrames; ++f) {
        const auto sheet = pipeline::measure_sheet(*plan, f, options, {}, findings, silent_observer());
        REQUIRE(sheet);
        REQUIRE_FALSE(sheet->record.failure);
        for (int c = 0; c < 3; ++c)
            CHECK(sheet->record.strips.at(0).base.base[c].value.value() == Approx(ways.film.strips[0].base_density[static_cast<std::size_t>(c)]).margin(0.012));
        // Light at the frame's corners beside that in its middle.
        for (const double u : {-1.0, 1.0})
            for (const double v : {-1.0, 1.0}) {
                const double x = stand.width / 2.0 + u * 17 * stand.px_per_mm, y = stand.height / 2.0 + v * 11 * stand.px_per_mm;
                const double truth = std::log(1 - stand.falloff * (17 * 17 + 11 * 11) * stand.px_per_mm * stand.px_per_mm / (half * half));
                const auto here = sheet->light.at({x, y}), middle = sheet->light.at({stand.width / 2.0, stand.height / 2.0});
                // A density off by .01 at the most.
                CAPTURE(f, u, v);
                CHECK(std::log(static_cast<double>(here.g / middle.g)) == Approx(truth).margin(0.023));
            }
    }
}

}  // namespace

// One case, as the film is drawn and both runs are made but once.
TEST_CASE("one film seen by a flatbed and by a camera") {
    SECTION("gives the same pictures") { check_pictures(both_ways()); }
    SECTION("gives the same tones and greys where no chart is named, and stronger colours, as a camera's channels are taken for broad") {
        check_without_chart(both_ways());
    }
    SECTION("says what was done to the camera's frames") { check_what_was_done(both_ways()); }
    SECTION("without a light frame has its falloff told from rebate and perforations, and the report says so") { check_falloff(both_ways()); }
}

namespace {

/// A roll of small negatives, each with its settings; all even, so that no frame is found.
struct NotedShots {
    TemporaryFolder folder;
    RunOptions options;
    void add(const std::string& name, const synthetic::DngSpec& spec) {
        synthetic::write_dng(folder.file(name), spec, [](std::uint32_t, std::uint32_t, int) { return std::uint16_t{9000}; });
        options.scans.push_back(folder.file(name));
    }
    [[nodiscard]] std::vector<Finding> findings() {
        options.find.close_up = true;
        auto plan = pipeline::make_plan(options);
        REQUIRE(plan);
        REQUIRE(plan->groups.size() == 1);
        std::vector<Finding> found;
        REQUIRE(pipeline::prepare_close_ups(*plan, plan->groups[0], options, found, silent_observer()));
        for (const pipeline::SheetPlan& sheet : plan->sheets) CHECK_FALSE(sheet.scan.lens);
        std::erase_if(found, [](const Finding& f) { return f.code == "falloff-estimated"; });
        return found;
    }
};

synthetic::DngSpec noted(double seconds, double f_number = 8, std::uint16_t iso = 100) {
    synthetic::DngSpec spec;
    spec.settings = synthetic::ShotSettings{seconds, f_number, iso};
    return spec;
}

/// A roll of a plain shot and the other.
void check_told_as_mixed_cameras(const synthetic::DngSpec& other) {
    NotedShots shots;
    shots.add("a.dng", noted(1.0 / 50));
    shots.add("b.dng", other);
    const auto found = shots.findings();
    REQUIRE(found.size() == 1);
    CHECK(found[0].code == "mixed-cameras");
}

}  // namespace

TEST_CASE("shots of one roll by several cameras or with several settings are told") {
    using Catch::Contains;
    SECTION("alike, but for what rounding does: nothing") {
        NotedShots shots;
        for (const double seconds : {1.0 / 50, 0.0201, 0.0199}) shots.add("a" + std::to_string(seconds) + ".dng", noted(seconds));
        CHECK(shots.findings().empty());
    }
    SECTION("another shutter, and another aperture and sensitivity that make up for each other") {
        NotedShots shots;
        shots.add("a.dng", noted(1.0 / 50)), shots.add("b.dng", noted(1.0 / 25)), shots.add("c.dng", noted(1.0 / 50, 11, 200));
        const auto found = shots.findings();
        REQUIRE(found.size() == 1);
        CHECK(found[0].code == "mixed-settings");
        CHECK(found[0].severity == Severity::caution);
        CHECK(found[0].where.scan == shots.folder.file("b.dng"));
        CHECK_THAT(found[0].message, Contains("2 of this roll's 3 shots") && Contains("1/50 s against 1/25 s"));
    }
    SECTION("another camera") {
        synthetic::DngSpec other = noted(1.0 / 50);
        other.model = "Other stand";
        check_told_as_mixed_cameras(other);
    }
    SECTION("another size of the same camera") {
        synthetic::DngSpec other = noted(1.0 / 50);
        other.width = 128;
        check_told_as_mixed_cameras(other);
    }
    SECTION("a light frame with another shutter is serious: densities are off by what it tells") {
        NotedShots shots;
        shots.add("light.dng", noted(1.0 / 100));
        shots.options.scan.light_frame_path = shots.options.scans.front();
        shots.options.scans.clear();
        shots.add("a.dng", noted(1.0 / 50)), shots.add("b.dng", noted(1.0 / 50));
        const auto found = shots.findings();
        REQUIRE(found.size() == 1);
        CHECK(found[0].code == "light-frame-settings");
        CHECK(found[0].severity == Severity::serious);
        // Half the light in the light frame: film seems twice as clear, .30 less dense.
        CHECK_THAT(found[0].message, Contains("0.30 too low"));
    }
    SECTION("nothing noted: nothing said") {
        NotedShots shots;
        shots.add("a.dng", {}), shots.add("b.dng", noted(1.0 / 25));
        CHECK(shots.findings().empty());
    }
}

TEST_CASE("a ledger's further exposures are read with their frame and are no frames of their own") {
    NotedShots shots;
    for (const char* name : {"a1.dng", "a2.dng", "b1.dng", "b2.dng"}) shots.add(name, noted(name[1] == '1' ? 0.02 : 0.08));
    std::ofstream(shots.folder.file("l.toml")) << "[roll.A]\n[[shots]]\nroll = \"A\"\nfiles = \"*.dng\"\nexposures = 2\n";
    auto ledger = read_ledger(shots.folder.file("l.toml"));
    REQUIRE(ledger);
    shots.options.ledger = std::move(*ledger);
    // Named as a folder, as frames come from a camera: the longer exposures go with the others.
    shots.options.scans = {shots.folder.path().string()};
    const auto plan = pipeline::make_plan(shots.options);
    REQUIRE(plan);
    REQUIRE(plan->sheets.size() == 2);
    for (std::size_t i = 0; i < 2; ++i) {
        const std::string longer = shots.folder.file(i == 0 ? "a2.dng" : "b2.dng");
        CHECK(plan->sheets[i].scan.other_exposures == std::vector<std::string>{longer});
        CHECK(pipeline::files_of(plan->sheets[i]) == std::vector<std::string>{shots.folder.file(i == 0 ? "a1.dng" : "b1.dng"), longer});
    }
    // Their settings differ on purpose: nothing is said of that.
    CHECK(shots.findings().empty());
}
