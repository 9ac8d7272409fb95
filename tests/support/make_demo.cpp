// SPDX-License-Identifier: GPL-3.0-or-later
// basefog-make-demo FOLDER: writes two invented sheets, the ledger that goes with them and, in a folder of its own, the
// truth about them. Film, people and places in it are invented.
#include "support/demo_ledger.h"
#include "support/synthetic_files.h"

#include <opencv2/imgcodecs.hpp>

#include <cstdio>
#include <exception>
#include <filesystem>
#include <fstream>
#include <set>
#include <stdexcept>
#include <string>

namespace {

using namespace synthetic;
namespace fs = std::filesystem;

constexpr int kSceneWidth = 496;  // 36 mm at the finer sheet's 350 dpi: each scene is computed once, for both sheets and the truth

FrameSpec frame(SceneKind kind, std::uint64_t seed = 1, double stops = 0) { return {{kind, seed, kSceneWidth}, stops}; }

StripSpec strip(const std::string& roll, const FilmStock& stock, double light_kelvin, double rated_over, std::vector<FrameSpec> frames, int first = 1) {
    StripSpec out;
    out.roll = roll;
    out.stock = stock;
    out.light_kelvin = light_kelvin;
    out.rated_over = rated_over;
    out.frames = std::move(frames);
    out.frames.front().number = first;
    out.perforations = short_pitch_perforations();
    out.frame_pitch = 38.0;  // the camera's sprocket decides, whatever the film's pitch
    out.marks = EdgeMarks::bars;
    out.x = 14;
    return out;
}

FilmStock old_tungsten() { return aged(cross_processed(tungsten_500())); }

std::vector<FrameSpec> attic_frames() {
    return {frame(SceneKind::portrait, 1), frame(SceneKind::stairs, 1), frame(SceneKind::still_life, 1),
            frame(SceneKind::forest, 1),   frame(SceneKind::hills, 1),  frame(SceneKind::dusk, 1)};
}

/// Four strips of six in a holder, with infrared: a fresh roll, and one old stock at three ratings, the last poorly washed.
SheetSpec first_sheet() {
    SheetSpec sheet;
    sheet.file = "sheet-1.tif";
    sheet.dpi = 350;
    sheet.width = 262;
    sheet.height = 176;
    sheet.infrared = true;
    sheet.holder.kind = HolderKind::hides_perforations;
    sheet.holder.opening = 27.5;
    sheet.dust = {0.25, 0.03, 2};
    sheet.scanner.infrared_shift_x_px = 0.3;
    sheet.scanner.infrared_shift_y_px = -0.2;
    sheet.seed = 11;
    const FilmStock fresh = cross_processed(daylight_250());
    sheet.strips = {strip("harbour", fresh, 5500, 0,
                          {frame(SceneKind::chart), frame(SceneKind::houses, 1), frame(SceneKind::coast, 1), frame(SceneKind::crates, 1, 0.4),
                           frame(SceneKind::meadow, 1), frame(SceneKind::portrait, 2, -0.3)}),
                    strip("attic-1", old_tungsten(), 5500, 0, attic_frames()), strip("attic-2", old_tungsten(), 5500, 1, attic_frames()),
                    strip("attic-3", old_tungsten(), 5500, 2, attic_frames())};
    sheet.strips[1].residue = {0, 0.15, 0.5, 0, 0.25};
    sheet.strips[2].residue = {0, 0.10, 0.5, 0, 0.25};
    sheet.strips[3].residue = {0.028, 1.0, 14, 5, 0.42};
    for (std::size_t i = 0; i < sheet.strips.size(); ++i) sheet.strips[i].y = 8 + 41.5 * static_cast<double>(i);
    return sheet;
}

/// Bare glass, tilted strips, encoded with a gamma, no infrared: a short strip, a roll by lamp light, a black-and-white one.
SheetSpec second_sheet() {
    SheetSpec sheet;
    sheet.file = "sheet-2.tif";
    sheet.dpi = 300;
    sheet.width = 256;
    sheet.height = 140;
    sheet.encoding = Encoding::gamma22;
    sheet.dust = {0.25, 0.03, 1};
    sheet.seed = 12;
    sheet.strips = {
        strip("harbour", cross_processed(daylight_250()), 5500, 0, {frame(SceneKind::hills, 2), frame(SceneKind::coast, 2, 0.5), frame(SceneKind::blank)}, 7),
        strip("lamps", cross_processed(tungsten_500()), 3200, 0,
              {frame(SceneKind::room, 1), frame(SceneKind::street, 1), frame(SceneKind::room, 2, 0.6), frame(SceneKind::blank), frame(SceneKind::fogged),
               frame(SceneKind::still_life, 2)}),
        strip("pan", black_and_white_400(), 5500, 0,
              {frame(SceneKind::wedge), frame(SceneKind::stairs, 2), frame(SceneKind::portrait, 3), frame(SceneKind::snow, 1), frame(SceneKind::forest, 2),
               frame(SceneKind::blocks, 1)})};
    const double tilts[] = {1.3, -0.7, 0.5}, tops[] = {8, 52, 96};
    for (std::size_t i = 0; i < sheet.strips.size(); ++i) {
        sheet.strips[i].tilt_deg = tilts[i];
        sheet.strips[i].y = tops[i];
    }
    sheet.strips[2].perforations = long_pitch_perforations();
    sheet.strips[2].marks = EdgeMarks::numbers;
    return sheet;
}

void write_text(const fs::path& path, const std::string& text) {
    std::ofstream out(path, std::ios::binary);
    out << text;
    if (!out.flush()) throw std::runtime_error("cannot write " + path.string());
}

void write_png(const fs::path& path, const cv::Mat& image) {
    if (!cv::imwrite(path.string(), image)) throw std::runtime_error("cannot write " + path.string());
}

/// Densities times 200, 8 bits.
void write_density(const fs::path& path, const cv::Mat& density) {
    cv::Mat bytes;
    density.convertTo(bytes, CV_8U, 200);
    write_png(path, bytes);
}

/// The scene as the positive should show it: sRGB, light beyond white cut off.
void write_scene(const fs::path& path, const SceneSpec& scene) {
    SheetSpec as_srgb;
    as_srgb.encoding = Encoding::srgb;
    as_srgb.bits = 8;
    Sheet picture;
    picture.light = render_scene(scene, kSceneWidth);
    const cv::Mat rgb = encode(picture, as_srgb);
    cv::Mat bgr(rgb.size(), CV_8UC3);
    const int swap[] = {0, 2, 1, 1, 2, 0};
    cv::mixChannels(&rgb, 1, &bgr, 1, swap, 3);
    write_png(path, bgr);
}

void write_sheet(const fs::path& folder, const SheetSpec& spec) {
    const Sheet sheet = draw_sheet(spec);
    write_tiff((folder / spec.file).string(), encode(sheet, spec), spec.dpi);
    const fs::path truth = folder / "truth";
    const std::string stem = fs::path(spec.file).stem().string();
    write_text(truth / (stem + ".truth.json"), truth_json(spec, sheet));
    write_density(truth / (stem + ".residue.png"), sheet.residue);
    write_density(truth / (stem + ".dust.png"), sheet.dust);
    std::set<std::string> done;
    for (const StripSpec& s : spec.strips) {
        for (const FrameSpec& f : s.frames) {
            if (is_picture(f.scene.kind) && done.insert(name(f.scene)).second) write_scene(truth / "scenes" / (name(f.scene) + ".png"), f.scene);
        }
    }
    std::printf("%s: %zu strips, %d x %d pixels\n", (folder / spec.file).string().c_str(), spec.strips.size(), sheet.light.cols, sheet.light.rows);
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 2) {
        std::fprintf(stderr, "usage: basefog-make-demo FOLDER\nWrites two invented sheets, their ledger and the truth about them.\n");
        return 2;
    }
    try {
        const fs::path folder = argv[1];
        fs::create_directories(folder / "truth" / "scenes");
        write_sheet(folder, first_sheet());
        write_sheet(folder, second_sheet());
        write_text(folder / "ledger.toml", kDemoLedger);
        std::printf("%s\n", (folder / "ledger.toml").string().c_str());
    } catch (const std::exception& e) {
        std::fprintf(stderr, "basefog-make-demo: %s\n", e.what());
        return 4;
    }
    return 0;
}
