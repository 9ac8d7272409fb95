// SPDX-License-Identifier: GPL-3.0-or-later
// Scans whose resolution is missing or off, laid out so that one clue to the scale misleads. Truth is the generator's.
#include "basefog/frames/find_frames.h"

#include "drawn_strips.h"
#include "synthetic_overview.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;
using namespace basefog::test;

namespace {

constexpr double kDpi = 200;
constexpr double kRollFilmMm = 61.5;
// The suite's limit for the 95th percentile and a pixel's third: these are plain pictures, at 0.13 mm a pixel.
constexpr double kCornerMm = 0.16;

std::vector<synthetic::FrameSpec> pictures(int n, std::uint64_t seed) {
    std::vector<synthetic::FrameSpec> frames;
    for (int i = 0; i < n; ++i)
        frames.push_back({{i % 2 == 0 ? synthetic::SceneKind::texture : synthetic::SceneKind::shapes, seed + static_cast<std::uint64_t>(i), 240}, 1});
    return frames;
}

synthetic::StripSpec strip_of(int n, std::uint64_t seed, double y) {
    synthetic::StripSpec strip;
    strip.frames = pictures(n, seed);
    strip.x = 8;
    strip.y = y;
    return strip;
}

/// Film 61.5 mm wide without holes.
synthetic::StripSpec roll_strip(int n, std::uint64_t seed, double y, double along, double advance) {
    synthetic::StripSpec strip = strip_of(n, seed, y);
    strip.film_width = kRollFilmMm;
    strip.perforations.width = strip.perforations.corner_radius = 0;
    strip.frame_width = along;
    strip.frame_height = 56;
    strip.frame_pitch = advance;
    return strip;
}

synthetic::SheetSpec sheet_of(std::vector<synthetic::StripSpec> strips) { return sheet_around(std::move(strips), kDpi, 8); }

/// `stated`: what the file says, times the truth; 0: nothing.
void check_pictures(const synthetic::SheetSpec& spec, double stated) {
    const synthetic::Sheet sheet = synthetic::draw_sheet(spec);
    Overview overview = overview_of(sheet, kDpi * stated);
    if (stated == 0) overview.scan_resolution.reset();
    const SheetLayout layout = find_frames(overview, {}).value();
    REQUIRE(layout.strips.size() == sheet.strips.size());
    for (std::size_t s = 0; s < sheet.strips.size(); ++s) {
        REQUIRE(layout.strips[s].frames.size() == sheet.strips[s].frames.size());
        for (std::size_t f = 0; f < sheet.strips[s].frames.size(); ++f)
            CHECK(worst_corner_mm(kDpi, layout.strips[s].frames[f], sheet.strips[s].frames[f]) < kCornerMm);
    }
}

}  // namespace

TEST_CASE("slivers of perforations beside long pictures are not read at a whole part of their spacing") {
    std::vector<synthetic::StripSpec> strips;
    for (int i = 0; i < 2; ++i) {
        synthetic::StripSpec strip = strip_of(2, 10 + 10 * static_cast<std::uint64_t>(i), 8 + 45.0 * i);
        strip.frame_width = 65;
        strip.frame_pitch = 16 * strip.perforations.pitch;
        strips.push_back(strip);
    }
    synthetic::SheetSpec spec = sheet_of(strips);
    spec.holder = {synthetic::HolderKind::hides_perforations, 25.8, -0.4, 0, 3.4, {}};
    check_pictures(spec, 0);
}

TEST_CASE("many strips that touch tell their scale by their holes") {
    std::vector<synthetic::StripSpec> strips;
    for (int i = 0; i < 4; ++i) {
        synthetic::StripSpec strip = strip_of(2, 10 + 10 * static_cast<std::uint64_t>(i), 8 + 35.0 * i);
        strip.marks = synthetic::EdgeMarks::none;
        strips.push_back(strip);
    }
    check_pictures(sheet_of(strips), 0);
}

TEST_CASE("a single frame cut from roll film may be wider than it is long") { check_pictures(sheet_of({roll_strip(1, 4, 8, 41.5, 45)}), 0); }

TEST_CASE("clear film as bright as no film in a holder of its width is not taken for bare light") {
    synthetic::StripSpec masked = roll_strip(3, 10, 12, 69.5, 73.2), bright = roll_strip(3, 20, 84, 69.5, 73.2);
    bright.stock = synthetic::black_and_white_400();
    bright.stock.support = {{}, 0.03, 0.03};
    bright.stock.layers[0].fog = 0.02;
    synthetic::SheetSpec spec = sheet_of({masked, bright});
    spec.holder = {synthetic::HolderKind::shows_perforations, 60.6, -0.4, 0, 3.4, {}};
    check_pictures(spec, 1.014);
}

TEST_CASE("bare light at both ends of a short strip of roll film does not make its length the film's width") {
    std::vector<synthetic::StripSpec> strips;
    for (int i = 0; i < 3; ++i) {
        synthetic::StripSpec strip = roll_strip(2, 50 + 10 * static_cast<std::uint64_t>(i), 8 + 72.0 * i, 41.5, 44.5);
        strip.lead = 2 + 2 * i;
        strips.push_back(strip);
    }
    synthetic::SheetSpec spec = sheet_of(strips);
    spec.holder = {synthetic::HolderKind::hides_perforations, 58.5, 3, 0, 3.4, {}};
    check_pictures(spec, 0);
}
