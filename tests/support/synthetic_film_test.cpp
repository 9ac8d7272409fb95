// SPDX-License-Identifier: GPL-3.0-or-later
// The generator is the other tests' oracle, so it is held against published dimensions and closed forms itself.
#include "support/synthetic_film.h"

#include "support/ideal_sheet.h"
#include "support/synthetic_files.h"

#include <tiffio.h>
#include <catch2/catch.hpp>
#include <opencv2/core.hpp>

#include <algorithm>
#include <cmath>
#include <cstdio>
#include <string>

using namespace synthetic;

namespace {

constexpr double kPlaceTolerance = 0.01;  // mm: what the header promises

/// Millimetres along a row (or column) that read brighter than film, partial pixels counted by their share.
struct Run {
    double from = 0, length = 0;
};
std::vector<Run> bright_runs(const std::vector<double>& line, double clear, double px_mm) {
    std::vector<Run> runs;
    bool inside = false;
    for (std::size_t i = 0; i < line.size(); ++i) {
        const double share = std::clamp((line[i] - clear) / (1 - clear), 0.0, 1.0);
        if (share > 1e-6 && !inside) runs.push_back({(static_cast<double>(i) + 1 - share) * px_mm, 0});
        if (share > 1e-6) runs.back().length += share * px_mm;
        inside = share > 1e-6;
    }
    return runs;
}

}  // namespace

TEST_CASE("perforations have the published dimensions") {
    const auto [perforations, pitch, height, name] = GENERATE(std::make_tuple(long_pitch_perforations(), 4.750, 1.981, "long pitch, 0.078 in high"),
                                                              std::make_tuple(short_pitch_perforations(), 4.740, 1.854, "short pitch, 0.073 in high"));
    INFO(name);
    SheetSpec spec = ideal_sheet(1200, {{{SceneKind::blank, 1, 0}}, {{SceneKind::blank, 1, 0}}});
    spec.strips[0].perforations = perforations;
    const Sheet sheet = draw_sheet(spec);
    const double px_mm = 25.4 / spec.dpi, clear = std::pow(10, -sheet.strips[0].base_density[2]);
    // Film width 34.975 mm [SMPTE102]; hole 2.794 mm wide, pitch and height by type [SMPTE102; secondary source for the heights],
    // 2.01 mm from the edge (from memory).
    const int middle_row = static_cast<int>((spec.strips[0].y + 2.01 + 2.794 / 2) / px_mm);
    std::vector<double> line;
    for (int col = 0; col < sheet.light.cols; ++col) line.push_back(light(sheet, middle_row, col, 2));
    const std::vector<Run> holes = bright_runs(line, clear, px_mm);
    REQUIRE(holes.size() > 15);
    for (std::size_t i = 2; i + 2 < holes.size(); ++i) {
        CHECK(holes[i].length == Approx(height).margin(kPlaceTolerance));
        CHECK(holes[i].from - holes[i - 1].from == Approx(pitch).margin(kPlaceTolerance));
    }
    const int hole_column = static_cast<int>((holes[3].from + holes[3].length / 2) / px_mm);
    std::vector<double> across;
    for (int row = 0; row < sheet.light.rows; ++row) across.push_back(light(sheet, row, hole_column, 2));
    const std::vector<Run> runs = bright_runs(across, clear, px_mm);  // above the film, upper hole, lower hole, below it
    REQUIRE(runs.size() == 4);
    CHECK(runs[3].from - runs[0].length == Approx(34.975).margin(kPlaceTolerance));
    CHECK(runs[1].length == Approx(2.794).margin(kPlaceTolerance));
    CHECK(runs[1].from - runs[0].length == Approx(2.01).margin(kPlaceTolerance));
    CHECK(runs[2].length == Approx(2.794).margin(kPlaceTolerance));
}

TEST_CASE("a frame's area and centre are where the truth says, tilted or not") {
    const double tilt = GENERATE(0.0, 1.7, -3.0);
    const auto direction = GENERATE(Direction::horizontal, Direction::vertical);
    SheetSpec spec = ideal_sheet(400, {{{SceneKind::grey, 1, 0}, 1.0}});
    spec.strips[0].tilt_deg = tilt;
    spec.strips[0].direction = direction;
    spec.strips[0].perforations.width = 0;
    spec.strips[0].perforations.corner_radius = 0;
    spec.width = spec.height = 50;
    spec.strips[0].x = spec.strips[0].y = 5;
    const Sheet sheet = draw_sheet(spec);
    const Corners& q = sheet.strips[0].frames[0].corners_px;
    const double px_mm = 25.4 / spec.dpi;
    const int centre_x = static_cast<int>((q[0][0] + q[2][0]) / 2), centre_y = static_cast<int>((q[0][1] + q[2][1]) / 2);
    const double clear = std::pow(10, -sheet.strips[0].base_density[0]), dense = light(sheet, centre_y, centre_x, 0);
    double area = 0, x = 0, y = 0;
    for (int row = 0; row < sheet.light.rows; ++row) {
        for (int col = 0; col < sheet.light.cols; ++col) {
            const double share = std::clamp((clear - light(sheet, row, col, 0)) / (clear - dense), 0.0, 1.0);
            area += share;
            x += share * (col + 0.5);
            y += share * (row + 0.5);
        }
    }
    CHECK(area * px_mm * px_mm == Approx(36.0 * 24.0).margin(kPlaceTolerance * 120));  // 120 mm around
    CHECK(x / area * px_mm == Approx((q[0][0] + q[1][0] + q[2][0] + q[3][0]) / 4 * px_mm).margin(kPlaceTolerance));
    CHECK(y / area * px_mm == Approx((q[0][1] + q[1][1] + q[2][1] + q[3][1]) / 4 * px_mm).margin(kPlaceTolerance));
    CHECK(std::hypot(q[1][0] - q[0][0], q[1][1] - q[0][1]) * px_mm == Approx(36.0).margin(1e-6));
}

TEST_CASE("clear film shows the base density the truth states, grain and sensor noise averaged") {
    SheetSpec spec = ideal_sheet(300, {{{SceneKind::blank, 1, 0}}, {{SceneKind::blank, 1, 0}}});
    spec.noise = true;
    spec.infrared = true;
    spec.strips[0].stock = aged(cross_processed(tungsten_500()));
    const Sheet sheet = draw_sheet(spec);
    const cv::Scalar mean = cv::mean(sheet.light(cv::Rect(150, 190, 700, 150)));
    for (int i = 0; i < 4; ++i)
        CHECK(-std::log10(mean[i]) == Approx(sheet.strips[0].base_density[i]).margin(0.001));  // grain of 105,000 pixels averages far below
    CHECK(sheet.strips[0].base_density[0] < sheet.strips[0].base_density[1]);
    CHECK(sheet.strips[0].base_density[1] < sheet.strips[0].base_density[2]);  // an orange mask
}

TEST_CASE("a layer's curve has its slope, its toe and its latitude") {
    const Layer layer{0.6, -1.2, 3.0, 0.2, 0.4, 0.05, 5};
    CHECK(layer.dye(-6) == Approx(0).margin(1e-9));
    CHECK((layer.dye(0.3) - layer.dye(-0.3)) / 0.6 == Approx(0.6).epsilon(0.02));
    CHECK(layer.dye(-0.1) == Approx(0.6 * (-0.1 + 1.2)).epsilon(0.03));
    CHECK(layer.dye(6) == Approx(0.6 * 3.0).epsilon(1e-6));
    for (double h = -3; h < 3; h += 0.05) CHECK(layer.dye(h + 0.05) > layer.dye(h));
}

TEST_CASE("a daylight exposure on tungsten stock gains blue and loses red, by the ratio of black bodies") {
    const Triple offset = tungsten_500().light_offset(5500);
    // Planck's law written out: ratio at 448 nm against 548 nm between 5500 K and 3200 K, c2 = 0.014388 m K.
    const auto body = [](double nm, double k) { return std::pow(nm * 1e-9, -5) / (std::exp(0.014388 / (nm * 1e-9 * k)) - 1); };
    CHECK(offset[2] == Approx(std::log10(body(448, 5500) / body(448, 3200) * body(548, 3200) / body(548, 5500))).epsilon(1e-6));
    CHECK(offset[2] > 0.25);
    CHECK(offset[0] < -0.15);
}

TEST_CASE("the same specification gives the same pixels, another seed others") {
    SheetSpec spec = ideal_sheet(200, {{{SceneKind::hills, 1, 0}}});
    spec.noise = true;
    spec.strips[0].residue = {0.01, 0.5, 8, 2, 0.4};
    spec.dust = {2, 0.3, 1};
    const cv::Mat first = encode(draw_sheet(spec), spec), again = encode(draw_sheet(spec), spec);
    CHECK(cv::norm(first, again, cv::NORM_INF) == 0);
    spec.seed = 2;
    CHECK(cv::norm(first, encode(draw_sheet(spec), spec), cv::NORM_INF) > 0);
}

TEST_CASE("a strip that lies the other way round is the same picture turned by 180 degrees") {
    SheetSpec spec = ideal_sheet(200, {{{SceneKind::blocks, 1, 0}}, {{SceneKind::chart, 1, 0}}});
    spec.width = std::ceil(spec.width / 0.127) * 0.127;  // whole pixels, and the strip in the middle
    spec.height = 43.18;
    spec.strips[0].x = (spec.width - strip_length(spec.strips[0])) / 2;
    spec.strips[0].y = (spec.height - 34.975) / 2;
    const Sheet straight = draw_sheet(spec);
    spec.strips[0].turned = true;
    const Sheet turned = draw_sheet(spec);
    cv::Mat back;
    cv::rotate(turned.light, back, cv::ROTATE_180);
    CHECK(cv::norm(straight.light, back, cv::NORM_INF) < 1e-4);  // float rounding
    REQUIRE(turned.strips[0].frames.size() == 2);
    CHECK(turned.strips[0].frames[0].number == 2);
    CHECK(turned.strips[0].frames[0].corners_px[0][0] == Approx(straight.light.cols - straight.strips[0].frames[1].corners_px[2][0]).margin(1e-6));
}

TEST_CASE("residue is neutral, opaque in infrared, and its area is counted over visible film") {
    SheetSpec spec = ideal_sheet(200, {{{SceneKind::grey, 1, 0}}, {{SceneKind::grey, 1, 0}}});
    spec.infrared = true;
    const Sheet clean = draw_sheet(spec);
    spec.strips[0].residue = {0.012, 0.7, 10, 2, 0.4};
    const Sheet dirty = draw_sheet(spec);
    CHECK(clean.strips[0].residue_level == "clean");
    CHECK(dirty.strips[0].residue_area_percent > 0.5);
    const double clear = std::pow(10, -clean.strips[0].base_density[2]);
    double dense = 0, film = 0, worst = 0;
    for (int row = 0; row < dirty.light.rows; ++row) {
        for (int col = 0; col < dirty.light.cols; ++col) {
            std::array<double, 4> added{};
            for (int i = 0; i < 4; ++i) added[i] = std::log10(light(clean, row, col, i) / light(dirty, row, col, i));
            const double here = dirty.residue.ptr<float>(row)[col];
            if (light(clean, row, col, 2) > 1.01 * clear) continue;  // bare, or an edge shared with bare
            worst = std::max(worst, std::abs(added[0] - added[1]));
            film += 1;
            dense += here > 0.05;
            if (here > 0.3) CHECK(added[3] > 0.8 * added[0]);
        }
    }
    CHECK(worst < 1e-5);                                                                      // float rounding
    CHECK(100 * dense / film == Approx(dirty.strips[0].residue_area_percent).epsilon(0.08));  // pixels on the film's edges are left out here
}

TEST_CASE("a holder hides what it should") {
    SheetSpec spec = ideal_sheet(200, {{{SceneKind::grey, 1, 0}}});
    spec.holder.kind = HolderKind::hides_perforations;
    spec.holder.opening = 26;
    const Sheet sheet = draw_sheet(spec);
    CHECK(light(sheet, 5, 150, 0) == Approx(std::pow(10, -3.4)).epsilon(1e-3));
    const Corners& seen = sheet.strips[0].corners_px;
    CHECK((seen[3][1] - seen[0][1]) * 25.4 / spec.dpi == Approx(26.0).margin(1e-6));
}

TEST_CASE("encoded samples follow the published sRGB curve") {
    SheetSpec spec;
    spec.encoding = Encoding::srgb;
    Sheet sheet;
    sheet.light = cv::Mat(1, 3, CV_32FC3, cv::Scalar::all(0.18));
    sheet.light.ptr<float>(0)[0] = 0.01f;
    sheet.light.ptr<float>(0)[1] = 0.5f;
    const cv::Mat code = encode(sheet, spec);
    // Computed from the standard's constants [IEC61966-2-1]: 0.18 -> 30234.97, 0.01 -> 0.099852823, 0.5 -> 0.735356983 of full scale.
    CHECK(code.ptr<std::uint16_t>(0)[2] == Approx(30234.97).margin(1));
    CHECK(code.ptr<std::uint16_t>(0)[0] == Approx(0.099852823 * 65535).margin(1));
    CHECK(code.ptr<std::uint16_t>(0)[1] == Approx(0.735356983 * 65535).margin(1));
}

TEST_CASE("every scene is finite, positive and metered near the middle") {
    const int kind = GENERATE(range(static_cast<int>(SceneKind::hills), static_cast<int>(SceneKind::blocks) + 1));
    const cv::Mat scene = render_scene({static_cast<SceneKind>(kind), 1, 0}, 60);
    INFO(name(static_cast<SceneKind>(kind)));
    REQUIRE(scene.size() == cv::Size(60, 40));
    double low = 0, high = 0;
    cv::minMaxLoc(scene.reshape(1), &low, &high);
    CHECK(cv::checkRange(scene));
    CHECK(low >= 0);
    CHECK(high > 0.2);
    CHECK(cv::mean(scene)[1] == Approx(0.3).margin(0.27));
}

TEST_CASE("a written sheet reads back sample for sample") {
    SheetSpec spec = ideal_sheet(150, {{{SceneKind::chart, 1, 0}}});
    spec.infrared = true;
    const cv::Mat samples = encode(draw_sheet(spec), spec);
    const std::string path = "synthetic_film_test_sheet.tif";
    write_tiff(path, samples, spec.dpi);
    TIFF* tiff = TIFFOpen(path.c_str(), "r");
    REQUIRE(tiff);
    float dpi = 0;
    TIFFGetField(tiff, TIFFTAG_XRESOLUTION, &dpi);
    CHECK(dpi == 150.0f);
    std::vector<std::uint16_t> line(static_cast<std::size_t>(samples.cols) * 4);
    for (int row = 0; row < samples.rows; ++row) {
        REQUIRE(TIFFReadScanline(tiff, line.data(), static_cast<std::uint32_t>(row), 0) == 1);
        REQUIRE(std::equal(line.begin(), line.end(), samples.ptr<std::uint16_t>(row)));
    }
    TIFFClose(tiff);
    std::remove(path.c_str());
}
