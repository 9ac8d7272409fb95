// SPDX-License-Identifier: GPL-3.0-or-later
// One invented film seen both ways: on a flatbed, and frame by frame by a camera with a mosaic, a lens that bends and darkens the corners, and noise.
// The same pictures, densities and exposures must come out.
#include "pipeline/camera.h"

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
    strip.residue.edge_smears = 0.15;
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
        flatbed = made("flatbed", "[[sheet]]\nfile = \"sheet.tif\"\nstrips = [ { roll = \"A\" } ]\n");
        photograph();
        camera_frames = made("camera", "[[shots]]\nroll = \"A\"\nfiles = \"shot?.dng\"\nlight_frame = \"light.dng\"\ndark_frame = \"dark.dng\"\n");
    }
    [[nodiscard]] RunRecord made(const std::string& name, const std::string& scans) const {
        const std::string path = folder.file(name + ".toml");
        std::ofstream(path) << "[stock.d250]\nbox_speed = 250\nbalance = \"daylight\"\n[roll.A]\nstock = \"d250\"\nlight = \"daylight\"\n"
                               "frames = [ { number = 3, kind = \"colour chart\" } ]\n"
                            << scans;
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

}  // namespace

TEST_CASE("camera frames and a flatbed sheet of one film give the same pictures") {
    const BothWays& ways = both_ways();
    REQUIRE(ways.flatbed.scans.at(0).strips.size() == 1);
    REQUIRE(ways.flatbed.scans[0].strips[0].frames.size() == kFrames);
    REQUIRE(ways.camera_frames.scans.size() == kFrames);
    for (int f = 0; f < kFrames; ++f) {
        const auto off = differences(ways.proof(ways.flatbed, "flatbed", f), ways.proof(ways.camera_frames, "camera", f));
        const cv::Mat flat_density = ways.density(ways.flatbed, "flatbed", f), shot_density = ways.density(ways.camera_frames, "camera", f);
        {
            const auto& q = ways.film.strips[0].frames[static_cast<std::size_t>(f)].corners_px;
            const cv::Rect r(cv::Point(static_cast<int>(q[0][0]) + 8, static_cast<int>(q[0][1]) + 8), cv::Point(static_cast<int>(q[2][0]) - 8, static_cast<int>(q[2][1]) - 8));
            const cv::Mat t = ways.film.light(r);
            cv::Mat logs, small;
            cv::resize(t, small, {340, 226}, 0, 0, cv::INTER_AREA);
            cv::log(small, logs);
            const cv::Scalar m = cv::mean(logs), a = cv::mean(flat_density(cv::Rect(5, 5, 350, 230))), b = cv::mean(shot_density(cv::Rect(5, 5, 350, 230)));
            double low, high, l2, h2, l3, h3;
            cv::Mat plane;
            cv::extractChannel(logs, plane, 2);
            cv::minMaxLoc(plane, &low, &high);
            cv::extractChannel(flat_density, plane, 0);
            cv::minMaxLoc(plane, &l2, &h2);
            cv::extractChannel(shot_density, plane, 0);
            cv::Point at_low, at_high;
            cv::minMaxLoc(plane, &l3, &h3, &at_low, &at_high);
            std::string where;
            for (int yy = 0; yy < plane.rows; ++yy)
                for (int xx = 0; xx < plane.cols; ++xx)
                    if (plane.at<float>(yy, xx) > 1.7F && where.size() < 300) where += " " + std::to_string(xx) + "," + std::to_string(yy);
            WARN("high at " << at_high.x << "," << at_high.y << " n " << cv::countNonZero(plane > 1.7) << where);
            cv::imwrite("/tmp/wt8_d" + std::to_string(f) + ".png", plane * 60);
            WARN("blue true " << -m[2] / 2.302585 - ways.film.strips[0].base_density[2] << " flat " << a[0] << " camera " << b[0] << " max " << -low / 2.302585 - ways.film.strips[0].base_density[2] << " " << h2 << " " << h3);
        }
        const auto density_off = density_differences(flat_density, shot_density);
        WARN("density mean " << density_off.mean[0] << " " << density_off.mean[1] << " " << density_off.mean[2] << " median of |difference| " << density_off.median);
        CAPTURE(f, off[off.size() / 2], off[off.size() * 95 / 100]);
        CHECK(off[off.size() / 2] < 1.5);
        const FrameRecord &flat = BothWays::frame(ways.flatbed, f), &shot = BothWays::frame(ways.camera_frames, f);
        WARN("frame " << f << " median " << off[off.size() / 2] << " p95 " << off[off.size() * 95 / 100] << " exposure " << flat.exposure.offset.value.value() << " "
                      << shot.exposure.offset.value.value());
        const StripRecord &of_sheet = ways.flatbed.scans[0].strips[0], &of_shot = ways.camera_frames.scans[static_cast<std::size_t>(f)].strips.at(0);
        for (int c = 0; c < 3; ++c) {
            WARN("base " << of_sheet.base.base[c].value.value() << " " << of_shot.base.base[c].value.value() << " true "
                         << ways.film.strips[0].base_density[static_cast<std::size_t>(c)]);
            CHECK(std::abs(of_sheet.base.base[c].value.value() - of_shot.base.base[c].value.value()) < 0.015);
        }
        WARN("grade " << static_cast<int>(of_sheet.residue.grade) << " " << static_cast<int>(of_shot.residue.grade) << " area "
                      << of_sheet.residue.area_percent.value << " " << of_shot.residue.area_percent.value);
    }
    for (const RunRecord* record : {&ways.flatbed, &ways.camera_frames})
        for (const Finding& finding : record->findings) WARN(finding.code << ": " << finding.message);
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
        return found;
    }
};

synthetic::DngSpec noted(double seconds, double f_number = 8, std::uint16_t iso = 100) {
    synthetic::DngSpec spec;
    spec.settings = synthetic::ShotSettings{seconds, f_number, iso};
    return spec;
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
        NotedShots shots;
        shots.add("a.dng", noted(1.0 / 50));
        synthetic::DngSpec other = noted(1.0 / 50);
        other.model = "Other stand";
        shots.add("b.dng", other);
        const auto found = shots.findings();
        REQUIRE(found.size() == 1);
        CHECK(found[0].code == "mixed-cameras");
    }
    SECTION("another size of the same camera") {
        NotedShots shots;
        shots.add("a.dng", noted(1.0 / 50));
        synthetic::DngSpec other = noted(1.0 / 50);
        other.width = 128;
        shots.add("b.dng", other);
        const auto found = shots.findings();
        REQUIRE(found.size() == 1);
        CHECK(found[0].code == "mixed-cameras");
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
