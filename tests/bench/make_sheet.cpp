// SPDX-License-Identifier: GPL-3.0-or-later
// Writes sheets as large as scanners make them: drawn at 400 dpi by the tests' own generator, enlarged row by row with fresh noise, so that no size is
// too large and nothing compresses better than a scan would.
//   basefog-bench-sheet sheet DPI FILE [--infrared] [--deflate]     a holder of four strips of six: 258 x 181.8 mm
//   basefog-bench-sheet shots FOLDER COUNT                          a camera's shots of one frame each, 6000 x 4000
//   basefog-bench-sheet raw FOLDER COUNT                            the same as mosaics with noise, and light.dng, the bare light
//   basefog-bench-sheet overlapping FOLDER COUNT                    such mosaics of one strip, each two thirds of a shot further along
#include "support/synthetic_camera.h"
#include "support/synthetic_film.h"
#include "support/synthetic_scenes.h"

#include <tiffio.h>
#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstring>
#include <stdexcept>
#include <string>
#include <vector>

namespace {

using namespace synthetic;

constexpr double kDrawnDpi = 400, kMmPerInch = 25.4;

SheetSpec holder(bool infrared) {
    constexpr double kPitch = 43, kEdge = 7, kMargin = 14;
    const SceneKind kinds[] = {SceneKind::hills, SceneKind::blocks, SceneKind::coast, SceneKind::still_life, SceneKind::snow, SceneKind::chart};
    SheetSpec spec;
    spec.dpi = kDrawnDpi;
    spec.width = 258;
    spec.height = 181.8;
    spec.seed = 7;
    spec.infrared = infrared;
    spec.noise = false;  // of the full resolution, below
    spec.dust.specks_per_cm2 = 0.6;
    spec.dust.fibres_per_cm2 = 0.05;
    for (int s = 0; s < 4; ++s) {
        StripSpec strip;
        strip.roll = "R" + std::to_string(s + 1);
        strip.x = kMargin;
        strip.y = kEdge + kPitch * s;
        strip.tilt_deg = 0.4 - 0.25 * s;
        if (s == 3) strip.residue = {0.02, 0.3, 2, 1, 0.2};
        for (int f = 0; f < 6; ++f) {
            FrameSpec frame;
            frame.scene.kind = kinds[(f + s) % 6];
            frame.number = f + 1;
            strip.frames.push_back(frame);
        }
        spec.strips.push_back(strip);
    }
    return spec;
}

/// A part of the drawn sheet at any size, row by row.
class Enlarged {
public:
    Enlarged(const cv::Mat& drawn, double x0, double y0, double step, std::uint32_t seed) : drawn_(drawn), x0_(x0), y0_(y0), step_(step), state_(seed) {}

    void row(std::int64_t y, std::int64_t width, std::uint16_t* out) {
        const int channels = drawn_.channels();
        const double sy = std::clamp(y0_ + (static_cast<double>(y) + 0.5) * step_ - 0.5, 0.0, drawn_.rows - 1.001);
        const auto* const upper = drawn_.ptr<std::uint16_t>(static_cast<int>(sy));
        const auto* const lower = drawn_.ptr<std::uint16_t>(static_cast<int>(sy) + 1);
        const auto v = static_cast<float>(sy - std::floor(sy));
        for (std::int64_t x = 0; x < width; ++x) {
            const double sx = std::clamp(x0_ + (static_cast<double>(x) + 0.5) * step_ - 0.5, 0.0, drawn_.cols - 1.001);
            const int column = static_cast<int>(sx) * channels;
            const auto u = static_cast<float>(sx - std::floor(sx));
            for (int c = 0; c < channels; ++c) {
                const float top = static_cast<float>(upper[column + c]) * (1 - u) + static_cast<float>(upper[column + channels + c]) * u;
                const float low = static_cast<float>(lower[column + c]) * (1 - u) + static_cast<float>(lower[column + channels + c]) * u;
                const float level = top * (1 - v) + low * v;
                // Grain in proportion to light, and a sensor's own few codes; triangular.
                const float value = level + (0.02F * level + 12) * noise();
                *out++ = static_cast<std::uint16_t>(std::clamp(value + 0.5F, 0.0F, 65535.0F));
            }
        }
    }

private:
    float noise() {
        state_ ^= state_ << 13;
        state_ ^= state_ >> 17;
        state_ ^= state_ << 5;
        return (static_cast<float>(state_ >> 16) - static_cast<float>(state_ & 0xFFFF)) / 65536.0F;
    }
    const cv::Mat& drawn_;
    double x0_, y0_, step_;
    std::uint32_t state_;
};

void write(const std::string& path, Enlarged& picture, std::int64_t width, std::int64_t height, int channels, double dpi, bool deflate) {
    constexpr std::int64_t kStripRows = 16;
    TIFF* const tiff = TIFFOpen(path.c_str(), width * height * channels * 2 > 0xF0000000LL ? "w8" : "w");
    if (tiff == nullptr) throw std::runtime_error("cannot write " + path);
    TIFFSetField(tiff, TIFFTAG_IMAGEWIDTH, static_cast<std::uint32_t>(width));
    TIFFSetField(tiff, TIFFTAG_IMAGELENGTH, static_cast<std::uint32_t>(height));
    TIFFSetField(tiff, TIFFTAG_BITSPERSAMPLE, 16);
    TIFFSetField(tiff, TIFFTAG_SAMPLESPERPIXEL, channels);
    TIFFSetField(tiff, TIFFTAG_PHOTOMETRIC, PHOTOMETRIC_RGB);
    TIFFSetField(tiff, TIFFTAG_PLANARCONFIG, PLANARCONFIG_CONTIG);
    if (channels == 4) {
        const std::uint16_t kind = EXTRASAMPLE_UNSPECIFIED;
        TIFFSetField(tiff, TIFFTAG_EXTRASAMPLES, 1, &kind);
    }
    TIFFSetField(tiff, TIFFTAG_COMPRESSION, deflate ? COMPRESSION_ADOBE_DEFLATE : COMPRESSION_NONE);
    if (deflate) TIFFSetField(tiff, TIFFTAG_PREDICTOR, PREDICTOR_HORIZONTAL);
    TIFFSetField(tiff, TIFFTAG_ROWSPERSTRIP, static_cast<std::uint32_t>(kStripRows));
    if (dpi > 0) {
        TIFFSetField(tiff, TIFFTAG_XRESOLUTION, dpi);
        TIFFSetField(tiff, TIFFTAG_YRESOLUTION, dpi);
        TIFFSetField(tiff, TIFFTAG_RESOLUTIONUNIT, RESUNIT_INCH);
    }
    std::vector<std::uint16_t> strip(static_cast<std::size_t>(width * kStripRows * channels));
    for (std::int64_t y = 0; y < height; y += kStripRows) {
        const std::int64_t rows = std::min(kStripRows, height - y);
        for (std::int64_t k = 0; k < rows; ++k) picture.row(y + k, width, strip.data() + k * width * channels);
        if (TIFFWriteEncodedStrip(tiff, static_cast<std::uint32_t>(y / kStripRows), strip.data(), rows * width * channels * 2) < 0)
            throw std::runtime_error("cannot write " + path);
    }
    TIFFClose(tiff);
}

void write_sheet(const std::string& path, double dpi, bool infrared, bool deflate) {
    const SheetSpec spec = holder(infrared);
    const cv::Mat drawn = encode(draw_sheet(spec), spec);
    const auto side = [&](double mm) { return std::llround(mm / kMmPerInch * dpi / 4) * 4; };
    Enlarged picture(drawn, 0, 0, kDrawnDpi / dpi, 1);
    write(path, picture, side(spec.width), side(spec.height), drawn.channels(), dpi, deflate);
}

constexpr std::int64_t kWidth = 6000, kHeight = 4000;
constexpr double kShown = 39.0;  // mm along the longer side: the frame, its edges and some film

void write_shots(const std::string& folder, int count) {
    const SheetSpec spec = holder(false);
    const Sheet sheet = draw_sheet(spec);
    const cv::Mat drawn = encode(sheet, spec);
    int n = 0;
    for (const StripTruth& strip : sheet.strips)
        for (const FrameTruth& frame : strip.frames) {
            if (n == count) return;
            double x = 0, y = 0;
            for (const auto& corner : frame.corners_px) x += corner[0] / 4, y += corner[1] / 4;
            const double across = kShown / kMmPerInch * kDrawnDpi, step = across / kWidth;
            Enlarged picture(drawn, x - across / 2, y - step * kHeight / 2, step, static_cast<std::uint32_t>(++n));
            char name[32];
            std::snprintf(name, sizeof name, "/shot-%02d.tif", n);
            write(folder + name, picture, kWidth, kHeight, drawn.channels(), 0, false);
        }
}

/// `count` shots, each where `place` has its middle, in mm on the drawn sheet.
template <class Place>
void write_raw(const std::string& folder, const Sheet& sheet, int count, double shown, const Place& place) {
    CopyCamera camera;
    camera.width = kWidth, camera.height = kHeight;
    camera.px_per_mm = static_cast<double>(kWidth) / shown;
    camera.lens = {-0.02, 0.004};
    camera.falloff = 0.25;
    write_bare_shot(folder + "/light.dng", camera, 1, 100);
    for (int n = 0; n < count; ++n) {
        CopyShot shot;
        const auto [x, y] = place(n);
        shot.x_mm = x, shot.y_mm = y;
        shot.seed = 200 + static_cast<std::uint64_t>(n);
        char name[32];
        std::snprintf(name, sizeof name, "/shot-%02d.dng", n + 1);
        write_shot(folder + name, camera, shot, sheet.light, kDrawnDpi / kMmPerInch);
    }
}

/// The holder's film as a camera's light sees it: no scanner.
Sheet bare_film() {
    SheetSpec spec = holder(false);
    spec.scanner.white = 1;
    spec.scanner.falloff = spec.scanner.flare = spec.scanner.blur_px = 0;
    spec.scanner.lean = {0, 0, 0};
    return draw_sheet(spec);
}

void write_raw_frames(const std::string& folder, int count) {
    const Sheet sheet = bare_film();
    write_raw(folder, sheet, count, kShown, [&](int n) {
        const FrameTruth& frame = sheet.strips[static_cast<std::size_t>(n / 6 % 4)].frames[static_cast<std::size_t>(n % 6)];
        std::array<double, 2> middle{};
        for (const auto& corner : frame.corners_px)
            for (std::size_t k = 0; k < 2; ++k) middle[k] += corner[k] / 4 * kMmPerInch / kDrawnDpi;
        return middle;
    });
}

void write_overlapping(const std::string& folder, int count) {
    constexpr double kAll = 55.0;  // mm along the longer side: the film in all its width, and a little beside it
    const Sheet sheet = bare_film();
    const StripSpec strip = holder(false).strips[2];
    write_raw(folder, sheet, count, kAll, [&](int n) { return std::array{strip.x + kAll * (0.45 + 2.0 / 3 * n), strip.y + 17.5}; });
}

}  // namespace

int main(int argc, char** argv) {
    const std::vector<std::string> words(argv + 1, argv + argc);
    const auto has = [&](const char* word) { return std::find(words.begin(), words.end(), word) != words.end(); };
    try {
        if (words.size() >= 3 && words[0] == "sheet")
            write_sheet(words[2], std::stod(words[1]), has("--infrared"), has("--deflate"));
        else if (words.size() >= 3 && words[0] == "shots")
            write_shots(words[1], std::stoi(words[2]));
        else if (words.size() >= 3 && words[0] == "raw")
            write_raw_frames(words[1], std::stoi(words[2]));
        else if (words.size() >= 3 && words[0] == "overlapping")
            write_overlapping(words[1], std::stoi(words[2]));
        else
            throw std::runtime_error("sheet DPI FILE [--infrared] [--deflate] | shots, raw or overlapping FOLDER COUNT");
    } catch (const std::exception& error) {
        std::fprintf(stderr, "basefog-bench-sheet: %s\n", error.what());
        return 1;
    }
    return 0;
}
