// SPDX-License-Identifier: GPL-3.0-or-later
// Edge print read back from strips that lie in each of the four ways. Figures come from two places that share nothing with the
// reader: the invented sheets' dot matrix, and founts it has no shapes of. Code 128 symbols are drawn by libzint, an independent
// encoder of ISO/IEC 15417. That frame numbers stand upright when the picture does: common practice, no source.
#include "basefog/frames/find_frames.h"
#include "basefog/frames/read_edge_print.h"
#include "synthetic_overview.h"

#include <zint.h>
#include <catch2/catch.hpp>
#include <opencv2/imgproc.hpp>
#include <random>

using namespace basefog;

namespace {

struct Way {
    bool turned = false, mirrored = false;  // as a print's: mirror left to right first, then turn
};
constexpr Way kWays[] = {{false, false}, {true, false}, {false, true}, {true, true}};

constexpr double kFilmMm = 34.975, kLengthMm = 160, kMarginMm = 4;

/// A strip of clear film with perforations, its upright print drawn by `draw` into a density canvas of the whole film, then laid in one way.
struct DrawnStrip {
    Overview overview;
    StripBox box;
};
template <class Draw>
DrawnStrip lay(Way way, double px_per_mm, const Draw& draw, double grain = 0.01, std::uint64_t seed = 1) {
    const int fine = 2;  // drawn larger, then averaged as a scanner would
    const auto px = [&](double mm) { return static_cast<int>(std::lround(mm * px_per_mm * fine)); };
    cv::Mat film = cv::Mat(px(kFilmMm), px(kLengthMm), CV_32F, cv::Scalar(0.3));
    draw(film, px_per_mm * fine);
    for (double s = 1.2; s < kLengthMm; s += 4.75)
        for (const double t : {2.01, kFilmMm - 2.01 - 2.794})
            cv::rectangle(film, cv::Rect(px(s), px(t), px(1.98), px(2.794)) & cv::Rect(0, 0, film.cols, film.rows), cv::Scalar(0.0), cv::FILLED);
    if (way.turned) cv::flip(film, film, -1);
    if (way.mirrored) cv::flip(film, film, 1);
    cv::Mat sheet(px(kFilmMm + 2 * kMarginMm), px(kLengthMm + 2 * kMarginMm), CV_32F, cv::Scalar(0.0));
    film.copyTo(sheet(cv::Rect(px(kMarginMm), px(kMarginMm), film.cols, film.rows)));
    std::mt19937_64 random(seed);
    cv::Mat light;
    cv::exp(sheet * -std::log(10.0), light);
    cv::resize(light, light, {}, 1.0 / fine, 1.0 / fine, cv::INTER_AREA);
    cv::GaussianBlur(light, light, {}, 0.6);
    DrawnStrip out;
    out.overview.pixels = Image<LinearRgbi>(light.cols, light.rows);
    std::normal_distribution<double> noise(0, grain);
    for (int y = 0; y < light.rows; ++y)
        for (int x = 0; x < light.cols; ++x) {
            const auto l = static_cast<float>(0.9 * light.at<float>(y, x) * std::pow(10, noise(random)));
            out.overview.pixels(x, y) = {l, 0.8F * l, 0.5F * l, 0};
        }
    out.overview.scan_width = light.cols;
    out.overview.scan_height = light.rows;
    out.overview.scan_resolution = PixelsPerMm(px_per_mm);
    const double x0 = kMarginMm * px_per_mm, y0 = kMarginMm * px_per_mm, x1 = x0 + kLengthMm * px_per_mm, y1 = y0 + kFilmMm * px_per_mm;
    out.box.corners = {PointPx{x0, y0}, PointPx{x1, y0}, PointPx{x1, y1}, PointPx{x0, y1}};
    out.box.perforations_seen = true;
    return out;
}

/// Numbers every 19 mm, half-way ones with an A, in a stroke fount `height` mm high.
auto numbers_in(int fount, int first, double height_mm) {
    return [=](cv::Mat& film, double px_per_mm) {
        int line = 0;
        const double unit = cv::getTextSize("8", fount, 1, 1, &line).height;
        for (int k = 0; k < 8; ++k) {
            const std::string text = std::to_string(first + k / 2) + (k % 2 == 1 ? "A" : "");
            cv::putText(film, text, {static_cast<int>((8 + 19 * k) * px_per_mm), static_cast<int>(1.75 * px_per_mm)}, fount, height_mm * px_per_mm / unit,
                        cv::Scalar(1.0), static_cast<int>(0.18 * px_per_mm), cv::LINE_AA);
        }
    };
}

synthetic::SheetSpec numbered_sheet(Way way, int first) {
    synthetic::StripSpec strip;
    for (int i = 0; i < 4; ++i) strip.frames.push_back({{synthetic::SceneKind::blocks, static_cast<std::uint64_t>(i + 1)}, 0, 0, first + i});
    // The generator mirrors across the strip: that is left to right, and turned.
    strip.mirrored = way.mirrored;
    strip.turned = way.turned != way.mirrored;
    strip.tilt_deg = 0.6;
    synthetic::SheetSpec spec;
    spec.width = 175;
    spec.height = 55;
    spec.dpi = 300;
    spec.strips = {strip};
    return spec;
}

/// Draws a symbol by libzint along the upper edge, modules of `module_mm`.
auto symbol(const std::string& text, double module_mm) {
    return [=](cv::Mat& film, double px_per_mm) {
        zint_symbol* drawn = ZBarcode_Create();
        drawn->symbology = BARCODE_CODE128;
        REQUIRE(ZBarcode_Encode(drawn, reinterpret_cast<const unsigned char*>(text.c_str()), static_cast<int>(text.size())) == 0);
        for (int m = 0; m < drawn->width; ++m)
            if ((drawn->encoded_data[0][m / 8] >> (m % 8)) & 1) {
                const int x0 = static_cast<int>((30 + m * module_mm) * px_per_mm), x1 = static_cast<int>((30 + (m + 1) * module_mm) * px_per_mm);
                cv::rectangle(film, cv::Point(x0, static_cast<int>(0.3 * px_per_mm)), cv::Point(x1 - 1, static_cast<int>(1.7 * px_per_mm)), cv::Scalar(1.0),
                              cv::FILLED);
            }
        ZBarcode_Delete(drawn);
    };
}

}  // namespace

TEST_CASE("Frame numbers tell which way a strip lies, in founts the reader has no shapes of", "[frames]") {
    for (const int fount : {cv::FONT_HERSHEY_COMPLEX, cv::FONT_HERSHEY_TRIPLEX})
        for (const double px_per_mm : {8.0, 12.0, 16.0})
            for (const Way& way : kWays) {
                CAPTURE(fount, px_per_mm, way.turned, way.mirrored);
                const DrawnStrip strip = lay(way, px_per_mm, numbers_in(fount, 7, 1.3));
                const EdgePrint print = read_edge_print(strip.overview, strip.box, PixelsPerMm(px_per_mm));
                REQUIRE(print.kind == EdgePrint::Kind::numbers);
                CHECK(print.turned == way.turned);
                CHECK(print.mirrored == way.mirrored);
                if (px_per_mm > 10) CHECK(print.text == "7 7A 8 8A 9 9A 10 10A");
                CHECK(print.confidence > 0.99);
            }
}

TEST_CASE("Frame numbers of invented sheets tell which way their strips lie", "[frames]") {
    for (const Way& way : kWays)
        for (const int first : {1, 12, 31}) {
            CAPTURE(way.turned, way.mirrored, first);
            const synthetic::SheetSpec spec = numbered_sheet(way, first);
            const Overview overview = overview_of(synthetic::draw_sheet(spec), spec.dpi);
            const auto layout = find_frames(overview, {});
            REQUIRE(layout);
            REQUIRE(layout->strips.size() == 1);
            const EdgePrint print = read_edge_print(overview, layout->strips[0], layout->scale);
            CAPTURE(print.text);
            REQUIRE(print.kind == EdgePrint::Kind::numbers);
            CHECK(print.turned == way.turned);
            CHECK(print.mirrored == way.mirrored);
        }
}

TEST_CASE("Nothing is claimed where nothing can be read", "[frames]") {
    const auto read = [](const DrawnStrip& strip, double px_per_mm) { return read_edge_print(strip.overview, strip.box, PixelsPerMm(px_per_mm)).kind; };
    SECTION("clear edges") {
        CHECK(read(lay({}, 12, [](cv::Mat&, double) {}), 12) == EdgePrint::Kind::none);
    }
    SECTION("dirt") {
        for (std::uint64_t seed = 1; seed <= 20; ++seed) {
            const auto specks = [&](cv::Mat& film, double px_per_mm) {
                std::mt19937_64 random(seed);
                std::uniform_real_distribution<double> along(0, kLengthMm), across(0.2, 1.8), size(0.2, 0.6);
                for (int i = 0; i < 8 + 2 * static_cast<int>(seed); ++i)
                    cv::ellipse(film, cv::Point2d(along(random), across(random)) * px_per_mm, cv::Size2d(size(random) * px_per_mm, size(random) * px_per_mm),
                                along(random), 0, 360, cv::Scalar(0.8), cv::FILLED);
            };
            CAPTURE(seed);
            CHECK(read(lay({}, 12, specks), 12) == EdgePrint::Kind::none);
        }
    }
    SECTION("figures that look alike every way round") {
        const auto zeros = [](cv::Mat& film, double px_per_mm) {
            for (int k = 0; k < 8; ++k)
                cv::putText(film, "0", {static_cast<int>((8 + 19 * k) * px_per_mm), static_cast<int>(1.7 * px_per_mm)}, cv::FONT_HERSHEY_SIMPLEX,
                            1.3 * px_per_mm / 21, cv::Scalar(1.0), static_cast<int>(0.2 * px_per_mm), cv::LINE_AA);
        };
        CHECK(read(lay({}, 12, zeros), 12) == EdgePrint::Kind::none);
    }
    SECTION("too coarse a scan") { CHECK(read(lay({}, 4, numbers_in(cv::FONT_HERSHEY_SIMPLEX, 1, 1.3)), 4) == EdgePrint::Kind::none); }
    SECTION("edges hidden by a holder") {
        DrawnStrip strip = lay({}, 12, numbers_in(cv::FONT_HERSHEY_SIMPLEX, 1, 1.3));
        for (PointPx& p : strip.box.corners) p.y = std::clamp(p.y, (kMarginMm + 3) * 12, (kMarginMm + kFilmMm - 3) * 12);
        CHECK(read(strip, 12) == EdgePrint::Kind::none);
    }
}

TEST_CASE("A machine-readable key number is read, with the way it runs and the edge it lies along", "[frames]") {
    for (const double module_mm : {0.19, 0.25})
        for (const Way& way : kWays) {
            CAPTURE(module_mm, way.turned, way.mirrored);
            const DrawnStrip strip = lay(way, 12, symbol("021234567800", module_mm));
            const EdgePrint print = read_edge_print(strip.overview, strip.box, PixelsPerMm(12));
            REQUIRE(print.kind == EdgePrint::Kind::machine_code);
            CHECK(print.text == "021234567800");
            CHECK(print.code_backwards == (way.turned != way.mirrored));
            CHECK(print.code_below == way.turned);
            CHECK(print.confidence == 0);
        }
}
