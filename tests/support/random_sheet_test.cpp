// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/random_sheet.h"

#include <catch2/catch.hpp>
#include <opencv2/core.hpp>

#include <algorithm>
#include <cmath>
#include <map>

using namespace synthetic;

namespace {

constexpr std::uint64_t kSheets = 1500;

/// How often each difficulty was drawn, and of how many sheets, strips or frames.
struct Counts {
    std::map<std::string, int> sheets, strips, frames;
    int sheet_total = 0, strip_total = 0, frame_total = 0;
};

const Counts& counts() {
    static const Counts drawn = [] {
        Counts out;
        for (std::uint64_t seed = 1; seed <= kSheets; ++seed) {
            const SheetSpec spec = random_sheet(seed);
            ++out.sheet_total;
            for (const std::string& d : spec.difficulties) ++out.sheets[d];
            for (const StripSpec& strip : spec.strips) {
                ++out.strip_total;
                for (const std::string& d : strip.difficulties) ++out.strips[d];
                for (const FrameSpec& frame : strip.frames) {
                    ++out.frame_total;
                    for (const std::string& d : frame.difficulties) ++out.frames[d];
                }
            }
        }
        return out;
    }();
    return drawn;
}

/// Four standard deviations of a binomial share, and a little for draws that depend on others.
double slack(double share, int n) { return 4 * std::sqrt(share * (1 - share) / n) + 0.01 * share; }

double side_mm(const Corners& q, std::size_t a, std::size_t b, double dpi) { return std::hypot(q[a][0] - q[b][0], q[a][1] - q[b][1]) * 25.4 / dpi; }

}  // namespace

TEST_CASE("a random sheet is the same every time, and another seed gives another") {
    SheetSpec spec = random_sheet(8);
    SheetSpec again = random_sheet(8);
    const cv::Mat first = encode(draw_sheet(spec), spec), second = encode(draw_sheet(again), again);
    REQUIRE(first.size() == second.size());
    CHECK(cv::norm(first, second, cv::NORM_INF) == 0);
    CHECK(spec.difficulties == again.difficulties);
    const SheetSpec other = random_sheet(9);
    CHECK((other.width != spec.width || other.dpi != spec.dpi));
}

TEST_CASE("difficulties of sheets are drawn at their rates") {
    const auto [name, share] = GENERATE(table<std::string, double>({{"8 bits", 0.2},
                                                                    {"16 bits", 0.8},
                                                                    {"infrared", 0.3},
                                                                    {"encoding untold", 0.05},
                                                                    {"resolution missing", 0.07},
                                                                    {"resolution some per cent off", 0.07},
                                                                    {"resolution off by a factor", 0.06},
                                                                    {"anisotropic scale", 0.2},
                                                                    {"falloff", 0.15},
                                                                    {"flare", 0.15},
                                                                    {"bare light clipped", 0.1},
                                                                    {"much dust", 0.15},
                                                                    {"bare glass", 0.45},
                                                                    {"vertical strips", 0.35},
                                                                    {"150 dpi", 0.10},
                                                                    {"300 dpi", 0.35},
                                                                    {"1200 dpi", 0.033}}));
    INFO(name);
    const Counts& drawn = counts();
    const auto found = drawn.sheets.find(name);
    REQUIRE(found != drawn.sheets.end());
    CHECK(static_cast<double>(found->second) / drawn.sheet_total == Approx(share).margin(slack(share, drawn.sheet_total)));
}

TEST_CASE("difficulties of strips are drawn at their rates") {
    const auto [name, share] = GENERATE(table<std::string, double>({{"turned", 0.25},
                                                                    {"mirrored", 0.10},
                                                                    {"black-and-white", 0.15},
                                                                    {"bright rebate", 0.075},
                                                                    {"light leak", 0.08},
                                                                    {"fogged leader", 0.06},
                                                                    {"long lead", 0.12},
                                                                    {"uneven advance", 0.10},
                                                                    {"rough gate", 0.25},
                                                                    {"residue", 0.35},
                                                                    {"shrunk", 0.15}}));
    INFO(name);
    const Counts& drawn = counts();
    const auto found = drawn.strips.find(name);
    REQUIRE(found != drawn.strips.end());
    CHECK(static_cast<double>(found->second) / drawn.strip_total == Approx(share).margin(slack(share, drawn.strip_total)));
}

TEST_CASE("difficulties of frames are drawn at their rates") {
    // Dark edges and underexposure are drawn for pictures only, 0.93 of the frames; underexposure not on the shortest strips.
    const auto [name, share, extra] = GENERATE(table<std::string, double, double>({{"blank frame", 0.05, 0.0},
                                                                                   {"fogged frame", 0.02, 0.0},
                                                                                   {"dark scene", 0.07, 0.0},
                                                                                   {"high key", 0.05, 0.0},
                                                                                   {"black edge", 0.093, 0.0},
                                                                                   {"black bar on edge", 0.056, 0.0},
                                                                                   {"underexposed", 0.050, 0.008}}));
    INFO(name);
    const Counts& drawn = counts();
    const auto found = drawn.frames.find(name);
    REQUIRE(found != drawn.frames.end());
    CHECK(static_cast<double>(found->second) / drawn.frame_total == Approx(share).margin(slack(share, drawn.frame_total) + extra));
}

TEST_CASE("every kind of film, camera and accident turns up within the suite's three hundred sheets") {
    const auto name = GENERATE(as<std::string>{}, "full frame", "half frame", "panoramic", "6 x 4.5", "6 x 6", "6 x 7", "short pitch", "long pitch", "zero gap",
                               "overlap", "wide gap", "cut off", "partly outside", "strips touch", "bow", "tilt", "residue on edge", "heavy fog",
                               "under fogged leader", "other format beside", "holder hides perforations", "holder shows perforations", "holder for roll film",
                               "linear", "sRGB", "gamma", "4800 dpi", "1200 dpi", "600 dpi");
    INFO(name);
    bool found = false;
    const auto has = [&](const std::vector<std::string>& list) { return std::find(list.begin(), list.end(), name) != list.end(); };
    for (std::uint64_t seed = 1; seed <= 300 && !found; ++seed) {
        const SheetSpec spec = random_sheet(seed);
        found = has(spec.difficulties);
        for (const StripSpec& strip : spec.strips) {
            found |= has(strip.difficulties);
            for (const FrameSpec& frame : strip.frames) found |= has(frame.difficulties);
        }
    }
    CHECK(found);
}

TEST_CASE("formats have their nominal sizes, and film its published width") {
    // 24 x 36 [ISO1007] every eight perforations; the others common practice, from memory. A gate differs by 0.3 mm along and
    // 0.25 across at most; two sides lean by up to 0.17 degrees each, and a bent strip adds a little.
    constexpr double kLean = 0.0035;
    const auto [format, along, across] = GENERATE(table<Format, double, double>({{Format::full_frame, 36, 24},
                                                                                 {Format::half_frame, 18, 24},
                                                                                 {Format::panoramic, 65, 24},
                                                                                 {Format::six_by_four_and_a_half, 41.5, 56},
                                                                                 {Format::six_by_six, 56, 56},
                                                                                 {Format::six_by_seven, 69.5, 56}}));
    INFO(name(format));
    for (std::uint64_t seed = 1; seed <= 4; ++seed) {
        StripPlace place;
        place.format = format;
        place.frames = 2;
        place.scene_width = 60;
        SheetSpec spec;
        spec.dpi = 100;
        spec.strips = {random_strip(place, seed)};
        StripSpec& strip = spec.strips[0];
        CHECK(strip.film_width == (perforated(format) ? 34.975 : 61.5));  // [SMPTE102]; unperforated film common practice
        if (format == Format::half_frame) CHECK(strip.frame_pitch == Approx(4 * strip.perforations.pitch));
        strip.shrinkage = 0;
        spec.width = strip_length(strip) + 30;
        spec.height = 90;
        const Sheet sheet = draw_sheet(spec);
        for (const FrameTruth& frame : sheet.strips[0].frames) {
            CHECK(side_mm(frame.corners_px, 0, 1, spec.dpi) == Approx(along).margin(0.3 + kLean * across));
            CHECK(side_mm(frame.corners_px, 1, 2, spec.dpi) == Approx(across).margin(0.25 + kLean * along));
        }
    }
}

TEST_CASE("random strips lie where a person might have laid them") {
    for (std::uint64_t seed = 1; seed <= 200; ++seed) {
        const SheetSpec spec = random_sheet(seed);
        INFO("sheet " << seed);
        CHECK((spec.strips.size() >= 1 && spec.strips.size() <= 6));
        for (std::size_t i = 0; i < spec.strips.size(); ++i) {
            const StripSpec& strip = spec.strips[i];
            CHECK((strip.frames.size() >= 1 && strip.frames.size() <= 8));
            CHECK(std::abs(strip.bow) <= 0.6);
            CHECK(std::abs(spec.stretch) <= 0.002);
            CHECK(std::abs(strip.tilt_deg) <= 2.9);
            CHECK(strip_length(strip) > 5);
            if (i == 0) continue;
            // Neighbours may touch but not lie on each other: their middles stand at least a film's width apart.
            const StripSpec& before = spec.strips[i - 1];
            const bool vertical = strip.direction == Direction::vertical;
            const auto middle = [&](const StripSpec& s) { return (vertical ? s.x : s.y) + s.film_width * (1 - s.shrinkage) / 2; };
            const double apart = middle(strip) - middle(before),
                         widths = (strip.film_width * (1 - strip.shrinkage) + before.film_width * (1 - before.shrinkage)) / 2;
            CHECK(apart >= widths - 1e-9);
        }
    }
}
