// SPDX-License-Identifier: GPL-3.0-or-later
// What a strip may suffer, and that its truth tells of it: bends, cuts, overlaps, stray light, odd gates, the edge's code.
#include "support/ideal_sheet.h"
#include "support/random_sheet.h"
#include "support/synthetic_code128.h"
#include "support/synthetic_files.h"

#include <tiffio.h>
#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>

#include <cstdio>
#include <set>

using namespace synthetic;

namespace {

constexpr double kPlaceTolerance = 0.01;         // mm: what the generator's header promises
constexpr double kGreyDensityTolerance = 0.002;  // the curves are tabulated every 0.004 log H

FrameSpec grey(double stops = 1) {
    FrameSpec frame;
    frame.scene.kind = SceneKind::grey;
    frame.stops = stops;
    return frame;
}

double apart(const std::array<double, 2>& a, const std::array<double, 2>& b) { return std::hypot(a[0] - b[0], a[1] - b[1]); }
std::array<double, 2> middle(const Corners& q) { return {(q[0][0] + q[1][0] + q[2][0] + q[3][0]) / 4, (q[0][1] + q[1][1] + q[2][1] + q[3][1]) / 4}; }

double quad_area(const Corners& q) {
    double twice = 0;
    for (std::size_t i = 0; i < 4; ++i) twice += q[i][0] * q[(i + 1) % 4][1] - q[(i + 1) % 4][0] * q[i][1];
    return std::abs(twice) / 2;
}

/// Centroid of the quad's area, which is not the mean of its corners unless it is a parallelogram.
std::array<double, 2> centroid(const Corners& q) {
    double twice = 0, x = 0, y = 0;
    for (std::size_t i = 0; i < 4; ++i) {
        const auto &a = q[i], &b = q[(i + 1) % 4];
        const double cross = a[0] * b[1] - b[0] * a[1];
        twice += cross;
        x += (a[0] + b[0]) * cross;
        y += (a[1] + b[1]) * cross;
    }
    return {x / (3 * twice), y / (3 * twice)};
}

/// Area and centroid of what is denser than clear film, pixels by their share, in a box around the quad.
struct Blob {
    double area = 0, x = 0, y = 0;
};
Blob dense_part(const Sheet& sheet, const Corners& q, double margin_px) {
    const double clear = std::pow(10, -sheet.strips[0].base_density[1]),
                 dense = light(sheet, static_cast<int>(middle(q)[1]), static_cast<int>(middle(q)[0]), 1);
    double x0 = 1e9, x1 = -1e9, y0 = 1e9, y1 = -1e9;
    for (const auto& [x, y] : q) {
        x0 = std::min(x0, x);
        x1 = std::max(x1, x);
        y0 = std::min(y0, y);
        y1 = std::max(y1, y);
    }
    Blob out;
    for (int row = static_cast<int>(y0 - margin_px); row < y1 + margin_px; ++row) {
        for (int col = static_cast<int>(x0 - margin_px); col < x1 + margin_px; ++col) {
            const double share = std::clamp((clear - light(sheet, row, col, 1)) / (clear - dense), 0.0, 1.0);
            out.area += share;
            out.x += share * (col + 0.5);
            out.y += share * (row + 0.5);
        }
    }
    out.x /= out.area;
    out.y /= out.area;
    return out;
}

}  // namespace

TEST_CASE("the code's table keeps the rules of its symbology") {
    // ISO/IEC 15417, from memory: every character is 11 modules of three bars and three spaces, each 1 to 4 wide, its bars an
    // even number of modules; no two are alike.
    std::set<std::array<int, 6>> seen;
    for (const auto& widths : code128_widths()) {
        int sum = 0;
        for (const int w : widths) {
            CHECK((w >= 1 && w <= 4));
            sum += w;
        }
        CHECK(sum == 11);
        CHECK((widths[0] + widths[2] + widths[4]) % 2 == 0);
        CHECK(seen.insert(widths).second);
    }
    // The usual worked example, "PJJ123C" in code set A (common practice, from memory): 878 modulo 103.
    CHECK(code128_check({103, 48, 42, 42, 17, 18, 19, 35}) == 54);
    CHECK(code128_values("482015103400").size() == 8);
    CHECK(code128_modules("482015103400").size() == 101);
    CHECK_THROWS_AS(code128_values("123"), std::invalid_argument);
    CHECK_THROWS_AS(code128_values("12a4"), std::invalid_argument);
}

TEST_CASE("the key code is drawn where the convention says, whichever way the strip lies") {
    const bool turned = GENERATE(false, true), mirrored = GENERATE(false, true);
    SheetSpec spec = ideal_sheet(500, {grey(), grey()});
    StripSpec& strip = spec.strips[0];
    strip.marks = EdgeMarks::code;
    strip.key.first_s = 20;
    strip.turned = turned;
    strip.mirrored = mirrored;
    const Sheet sheet = draw_sheet(spec);
    REQUIRE(sheet.strips[0].codes.size() == 1);
    const KeyCodeTruth& code = sheet.strips[0].codes[0];
    CHECK(code.digits == "482015103400");
    const Corners& q = code.corners_px;
    const double film_middle = (4 + 34.975 / 2) * spec.dpi / 25.4;
    CHECK((q[0][1] > film_middle) == (turned == mirrored));  // on the lower edge, unless one of the two moved it
    CHECK((q[1][0] > q[0][0]) == !turned);                   // reads to the right, unless the strip is turned
    const std::vector<bool> modules = code128_modules(code.digits);
    const double clear = sheet.strips[0].base_density[1];
    int wrong = 0;
    for (std::size_t i = 0; i < modules.size(); ++i) {
        const double u = (static_cast<double>(i) + 0.5) / static_cast<double>(modules.size());
        const double x = q[0][0] + u * (q[1][0] - q[0][0]), y = (q[0][1] + q[3][1]) / 2;
        wrong += (density_at(sheet, x, y) > clear + 0.3) != modules[i];
    }
    CHECK(wrong == 0);
}

TEST_CASE("on a bent strip frames stand square on its axis and the truth follows them") {
    const double bow = GENERATE(0.6, -0.6), sway = GENERATE(0.0, 0.2);
    SheetSpec spec = ideal_sheet(300, {grey(), grey(), grey(), grey(), grey(), grey()});
    spec.strips[0].bow = bow;
    spec.strips[0].sway = sway;
    spec.strips[0].perforations.width = spec.strips[0].perforations.corner_radius = 0;
    const Sheet sheet = draw_sheet(spec);
    const double px_mm = 25.4 / spec.dpi;
    const Corners& film = sheet.strips[0].film_corners_px;
    const double length = strip_length(spec.strips[0]), curvature = (8 * std::abs(bow) + 4 * CV_PI * CV_PI * std::abs(sway)) / (length * length);
    const double sagitta = curvature * 36 * 36 / 8;  // of a side between its corners
    for (const FrameTruth& frame : sheet.strips[0].frames) {
        const Corners& q = frame.corners_px;
        const Blob blob = dense_part(sheet, q, 0.6 / px_mm);
        CHECK(std::abs(blob.x - centroid(q)[0]) * px_mm < kPlaceTolerance);
        CHECK(std::abs(blob.y - centroid(q)[1]) * px_mm < kPlaceTolerance + 2.0 / 3 * sagitta);  // a bent strip's centroid, seen from its chord
        CHECK(blob.area * px_mm * px_mm == Approx(quad_area(q) * px_mm * px_mm).margin(kPlaceTolerance * 120));
        const double along_x = q[1][0] - q[0][0], along_y = q[1][1] - q[0][1], down_x = q[3][0] - q[0][0], down_y = q[3][1] - q[0][1];
        CHECK(std::abs(along_x * down_x + along_y * down_y) / (apart(q[0], q[1]) * apart(q[0], q[3])) < curvature * 18 + 1e-4);  // half the turn over 36 mm
    }
    // The middle stands off the chord by the bow.
    const double chord_y = (film[0][1] + film[1][1]) / 2,
                 centre_y = (sheet.strips[0].frames[2].corners_px[1][1] + sheet.strips[0].frames[3].corners_px[0][1]) / 2;
    CHECK((centre_y - chord_y) * px_mm - (34.975 - 24) / 2 == Approx(bow).margin(0.02));
}

TEST_CASE("two exposures on one piece of film add up") {
    SheetSpec spec = ideal_sheet(300, {grey(0), grey(0)});
    spec.strips[0].frames[1].advance = -2 - 5;  // the usual gap closed, and 5 mm more
    const Sheet sheet = draw_sheet(spec);
    const auto& frames = sheet.strips[0].frames;
    const double px = 300 / 25.4, y = middle(frames[0].corners_px)[1];
    CHECK((frames[0].corners_px[1][0] - frames[1].corners_px[0][0]) / px == Approx(5).margin(kPlaceTolerance));
    CHECK(frames[0].overlapped);
    CHECK(frames[1].overlapped);
    const double twice = density_at(sheet, frames[1].corners_px[0][0] + 2.5 * px, y);
    const Sheet once = draw_sheet(ideal_sheet(300, {grey(1)}));
    // Two equal exposures are one stop more than one.
    CHECK(twice == Approx(density_at(once, middle(once.strips[0].frames[0].corners_px)[0], y)).margin(kGreyDensityTolerance));
    CHECK(twice > density_at(sheet, frames[0].corners_px[0][0] + 2.5 * px, y) + 0.1);
}

TEST_CASE("a gap closed to nothing shows no clear film between the frames") {
    SheetSpec spec = ideal_sheet(300, {grey(), grey()});
    spec.strips[0].frames[1].advance = -2;
    const Sheet sheet = draw_sheet(spec);
    const auto& frames = sheet.strips[0].frames;
    CHECK(apart(frames[0].corners_px[1], frames[1].corners_px[0]) == Approx(0).margin(1e-6));
    const double y = middle(frames[0].corners_px)[1], seam = frames[0].corners_px[1][0], level = density_at(sheet, seam - 50, y);
    for (int i = -10; i <= 10; ++i) CHECK(density_at(sheet, seam + i, y) == Approx(level).margin(kGreyDensityTolerance));
    CHECK_FALSE(frames[0].overlapped);
}

TEST_CASE("a frame cut by the strip's end keeps its gate and says how much is left") {
    SheetSpec spec = ideal_sheet(300, {grey(), grey()});
    spec.strips[0].lead = -9;  // a quarter of 36 mm
    const Sheet sheet = draw_sheet(spec);
    const FrameTruth& cut = sheet.strips[0].frames[0];
    const double px = 300 / 25.4;
    CHECK(cut.cut_off);
    CHECK_FALSE(sheet.strips[0].frames[1].cut_off);
    CHECK(cut.visible_share == Approx(0.75).margin(0.02));  // counted on a grid of 40
    CHECK((cut.on_film_px[0][0] - cut.corners_px[0][0]) / px == Approx(9).margin(1e-6));
    CHECK(cut.on_film_px[0][0] == Approx(sheet.strips[0].film_corners_px[0][0]).margin(1e-6));
    CHECK(sheet.strips[0].frames[1].visible_share == 1);
    CHECK_FALSE(cut.in_opening_px);

    spec.holder.kind = HolderKind::shows_perforations;
    spec.holder.beyond_ends = -0.5;
    const FrameTruth covered = draw_sheet(spec).strips[0].frames[0];
    REQUIRE(covered.in_opening_px);
    CHECK(((*covered.in_opening_px)[0][0] - covered.on_film_px[0][0]) / px == Approx(0.5).margin(1e-6));
    CHECK((*covered.in_opening_px)[1] == covered.on_film_px[1]);
}

TEST_CASE("a strip partly outside the scan says so") {
    SheetSpec spec = ideal_sheet(200, {grey()});
    spec.strips[0].y = -34.975 / 2;
    const Sheet sheet = draw_sheet(spec);
    CHECK(sheet.strips[0].frames[0].visible_share == Approx(0.5).margin(0.02));
    CHECK(sheet.strips[0].frames[0].corners_px[0][1] < 0);
    CHECK_FALSE(sheet.strips[0].frames[0].cut_off);
}

TEST_CASE("a gate that leans is drawn leaning, and a rough one stays in place on the whole") {
    SheetSpec spec = ideal_sheet(600, {grey()});
    StripSpec& strip = spec.strips[0];
    strip.gate.lean_deg = {0.3, -0.2, -0.1, 0.25};
    strip.gate.rough = GENERATE(0.0, 0.06);
    strip.perforations.width = strip.perforations.corner_radius = 0;
    const Sheet sheet = draw_sheet(spec);
    const Corners& q = sheet.strips[0].frames[0].corners_px;
    const double px_mm = 25.4 / spec.dpi;
    CHECK(std::atan2(q[3][0] - q[0][0], q[3][1] - q[0][1]) * 180 / CV_PI == Approx(0.3).margin(1e-3));
    CHECK(std::atan2(q[1][1] - q[0][1], q[1][0] - q[0][0]) * 180 / CV_PI == Approx(-0.2).margin(1e-3));
    const Blob blob = dense_part(sheet, q, 0.3 / px_mm);
    CHECK(blob.area * px_mm * px_mm == Approx(quad_area(q) * px_mm * px_mm).margin((kPlaceTolerance + strip.gate.rough / 10) * 120));
    CHECK(std::abs(blob.x - centroid(q)[0]) * px_mm < kPlaceTolerance);
    CHECK(std::abs(blob.y - centroid(q)[1]) * px_mm < kPlaceTolerance);
}

TEST_CASE("unequal resolutions stretch one axis only") {
    SheetSpec spec = ideal_sheet(600, {grey()});
    spec.stretch = 0.002;
    const Sheet sheet = draw_sheet(spec);
    const Corners& q = sheet.strips[0].frames[0].corners_px;
    CHECK(apart(q[0], q[1]) / apart(q[0], q[3]) == Approx(1.5 * 1.002).epsilon(1e-9));
    const Blob blob = dense_part(sheet, q, 10);
    CHECK(blob.area == Approx(quad_area(q)).epsilon(1e-4));
}

TEST_CASE("a fogged leader is dense from edge to edge, and a leak crosses the gap") {
    SheetSpec spec = ideal_sheet(200, {grey(), grey()});
    StripSpec& strip = spec.strips[0];
    strip.fogged_leader = {15, 0.5, 1.8};
    Leak leak;
    leak.s = strip.lead + 37;  // the middle of the gap
    leak.log_h = 0.3;
    strip.leaks = {leak};
    const Sheet sheet = draw_sheet(spec);
    const double px = 200 / 25.4, x0 = 3 * px, clear = sheet.strips[0].base_density[1];
    const double rebate = (4 + 5.15) * px;  // between perforations and picture
    CHECK(density_at(sheet, x0 + 8 * px, rebate) > clear + 0.8);
    CHECK(density_at(sheet, x0 + 25 * px, rebate) == Approx(clear).margin(0.02));
    CHECK(density_at(sheet, x0 + leak.s * px, rebate) > clear + 0.5);
    // The first frame's left edge is lost in the fog, its right one in the leak; what remains to be seen is told.
    const FrameTruth& first = sheet.strips[0].frames[0];
    CHECK(first.edge_step[3] < 0.1);
    CHECK(sheet.strips[0].frames[1].edge_step[1] > 0.4);
    CHECK(first.content == FrameContent::picture);
    spec.strips[0].fogged_leader.until = 36;
    CHECK(draw_sheet(spec).strips[0].frames[0].content == FrameContent::fogged);
}

TEST_CASE("the step told for an edge is the density across it") {
    SheetSpec spec = ideal_sheet(200, {grey(), FrameSpec{}});
    spec.strips[0].frames[1].scene.kind = SceneKind::blank;
    const Sheet sheet = draw_sheet(spec);
    const FrameTruth &exposed = sheet.strips[0].frames[0], &blank = sheet.strips[0].frames[1];
    const double step = density_at(sheet, middle(exposed.corners_px)[0], middle(exposed.corners_px)[1]) - sheet.strips[0].base_density[1];
    for (const double side : exposed.edge_step) CHECK(side == Approx(step).margin(kGreyDensityTolerance));
    for (const double side : blank.edge_step) CHECK(side == Approx(0).margin(1e-6));
    CHECK(blank.content == FrameContent::blank);
}

TEST_CASE("a dark edge darkens the picture's side it names") {
    const int side = GENERATE(0, 1, 2, 3);
    SheetSpec spec = ideal_sheet(150, {grey()});
    spec.strips[0].frames[0].dark_edges = {{side, 4, 0, 1e-4}};
    const Sheet sheet = draw_sheet(spec);
    const Corners& q = sheet.strips[0].frames[0].corners_px;
    const double px = 150 / 25.4, clear = sheet.strips[0].base_density[1];
    const std::array<double, 2> centre = middle(q);
    for (int i = 0; i < 4; ++i) {
        const double dx = i == 0 ? -16 : i == 2 ? 16 : 0, dy = i == 1 ? -10 : i == 3 ? 10 : 0;
        CHECK((density_at(sheet, centre[0] + dx * px, centre[1] + dy * px) < clear + 0.05) == (i == side));
    }
}

TEST_CASE("a file may keep its resolution to itself") {
    const cv::Mat samples(4, 4, CV_16UC3, cv::Scalar::all(7));
    const std::string path = "synthetic_strip_test_sheet.tif";
    write_tiff(path, samples, 0);
    TIFF* tiff = TIFFOpen(path.c_str(), "r");
    REQUIRE(tiff);
    float dpi = 0;
    CHECK(TIFFGetField(tiff, TIFFTAG_XRESOLUTION, &dpi) == 0);
    TIFFClose(tiff);
    std::remove(path.c_str());
}
