// SPDX-License-Identifier: GPL-3.0-or-later
// One invented film seen both ways: on a flatbed, and frame by frame by a camera with a mosaic, a lens that bends and darkens the corners, and noise.
// The same pictures, densities and exposures must come out.
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
#include <vector>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

constexpr double kFilmDpi = 1000, kFlatbedDpi = 600, kStripX = 3, kStripY = 4;
constexpr int kFrames = 4;

synthetic::SheetSpec film_spec() {
    using synthetic::SceneKind;
    synthetic::SheetSpec spec;
    spec.dpi = kFilmDpi;
    synthetic::StripSpec strip;
    strip.roll = "A";
    strip.x = kStripX, strip.y = kStripY;
    strip.gap_jitter = 0.08;
    strip.residue.edge_smears = 0.15;
    const std::array<SceneKind, kFrames> scenes{SceneKind::hills, SceneKind::blocks, SceneKind::still_life, SceneKind::coast};
    for (int f = 0; f < kFrames; ++f) {
        synthetic::FrameSpec frame;
        frame.scene.kind = scenes[static_cast<std::size_t>(f)];
        frame.number = f + 1;
        frame.stops = 0.4 * f;
        strip.frames.push_back(frame);
    }
    spec.strips = {strip};
    spec.width = synthetic::strip_length(strip) + 2 * kStripX;
    spec.height = 43;
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
    camera.width = 1560, camera.height = 1060;
    camera.px_per_mm = 37;
    camera.lens = {-0.02, 0.004};
    camera.falloff = 0.25;
    return camera;
}

RunOptions options_for(std::vector<std::string> scans, const std::string& output) {
    RunOptions options;
    options.scans = std::move(scans);
    options.output_folder = output;
    options.command = "invert";
    options.finished = "2026-01-01T00:00:00Z";
    return options;
}

RunRecord made(const RunOptions& options) {
    auto record = run(options, silent_observer());
    if (!record) throw std::runtime_error(describe(record.error()));
    return std::move(*record);
}

struct BothWays {
    TemporaryFolder folder;
    synthetic::Sheet film = bare_film();
    std::vector<std::string> shots;
    RunRecord flatbed, camera_frames;

    BothWays() {
        synthetic::SheetSpec flat = film_spec();
        flat.dpi = kFlatbedDpi;
        synthetic::write_tiff(folder.file("sheet.tif"), synthetic::encode(synthetic::draw_sheet(flat), flat), flat.dpi);
        flatbed = made(options_for({folder.file("sheet.tif")}, folder.file("flatbed")));
        photograph();
        RunOptions options = options_for(shots, folder.file("camera"));
        options.find.close_up = true;
        options.scan.light_frame_path = folder.file("light.dng");
        options.scan.dark_frame_path = folder.file("dark.dng");
        camera_frames = made(options);
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
            shot.x_mm += 0.3 * (f - 1.5), shot.y_mm += 0.2 * (f % 2);
            shot.tilt_deg = 0.5 * (f - 1);
            shot.seed = 200 + static_cast<std::uint64_t>(f);
            shots.push_back(folder.file("shot" + std::to_string(f + 1) + ".dng"));
            synthetic::write_shot(shots.back(), stand, shot, film.light, px_per_mm);
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
};
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
