// SPDX-License-Identifier: GPL-3.0-or-later
// Strips on which a plain rectangle of "denser than base" is not enough: light past the gate, gaps that closed or widened, strips that touch.
// Truth is the generator's, which shares no formula with the finder.
#include "basefog/frames/find_frames.h"

#include "drawn_strips.h"
#include "synthetic_overview.h"

#include "support/random_sheet.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;
using namespace basefog::test;

namespace {

constexpr double kDpi = 300;
// A third of what the worst corner may be off: these are plain pictures but for the one difficulty.
constexpr double kCornerMm = 0.12;

synthetic::FrameSpec picture(std::uint64_t seed, double advance = 0) {
    synthetic::FrameSpec frame{{seed % 2 == 0 ? synthetic::SceneKind::shapes : synthetic::SceneKind::texture, seed, 240}, 1};
    frame.advance = advance;
    return frame;
}

synthetic::StripSpec strip_of(std::vector<synthetic::FrameSpec> frames) {
    synthetic::StripSpec strip;
    strip.frames = std::move(frames);
    strip.x = strip.y = 5;
    return strip;
}

synthetic::SheetSpec sheet_of(std::vector<synthetic::StripSpec> strips) { return sheet_around(std::move(strips), kDpi, 5); }

/// Every picture of the sheet is found at its place, and nothing else is called one.
void check_pictures(const synthetic::SheetSpec& spec) {
    const synthetic::Sheet sheet = synthetic::draw_sheet(spec);
    const SheetLayout layout = find_frames(overview_of(sheet, kDpi), {}).value();
    REQUIRE(layout.strips.size() == sheet.strips.size());
    for (std::size_t s = 0; s < sheet.strips.size(); ++s) {
        std::vector<FrameBox> found;
        for (const FrameBox& f : layout.strips[s].frames)
            if (f.kind == FrameKind::picture) found.push_back(f);
        std::vector<synthetic::FrameTruth> wanted;
        for (const synthetic::FrameTruth& t : sheet.strips[s].frames)
            if (t.content == synthetic::FrameContent::picture) wanted.push_back(t);
        REQUIRE(found.size() == wanted.size());
        for (std::size_t f = 0; f < found.size(); ++f) CHECK(worst_corner_mm(kDpi, found[f], wanted[f]) < kCornerMm);
    }
}

}  // namespace

TEST_CASE("a band of light across a gap hides neither of its edges") {
    synthetic::StripSpec strip = strip_of({picture(1), picture(2), picture(3)});
    synthetic::Leak leak;
    leak.s = strip.lead + 37;  // the first gap's middle
    leak.half_s = 2.5;
    leak.log_h = 0.3;
    strip.leaks = {leak};
    check_pictures(sheet_of({strip}));
}

TEST_CASE("a band of light over clear film is no picture") {
    synthetic::StripSpec strip = strip_of({picture(2), picture(4)});
    strip.lead = 24;
    synthetic::Leak leak;
    leak.s = 10;
    leak.half_s = 3;
    strip.leaks = {leak};
    check_pictures(sheet_of({strip}));
}

TEST_CASE("a picture half under a fogged leader keeps its place") {
    synthetic::StripSpec strip = strip_of({picture(2), picture(4), picture(6)});
    strip.fogged_leader = {strip.lead + 12, 1.5, 1.2};
    check_pictures(sheet_of({strip}));
}

TEST_CASE("one gap may be wider than the others by any part of a frame") {
    const double wider = GENERATE(5.0, 12.0, 20.0);
    check_pictures(sheet_of({strip_of({picture(1), picture(2), picture(3, wider), picture(4)})}));
}

TEST_CASE("pictures that meet without a gap are parted where they meet") {
    check_pictures(sheet_of({strip_of({picture(1), picture(2, -2), picture(3), picture(4)})}));
}

TEST_CASE("a picture that is one frame is not parted into two of half the size by a line in it") {
    const std::uint64_t seed = GENERATE(2, 8, 12);
    check_pictures(sheet_of({strip_of({picture(seed), picture(seed + 2)})}));
}

TEST_CASE("a short strip that touches a long one is a strip, and each ends where it ends") {
    synthetic::StripSpec first = strip_of({picture(1), picture(2), picture(3), picture(4)}), second = strip_of({picture(5), picture(6), picture(7)}),
                         third = strip_of({picture(8)});
    second.y = first.y + first.film_width + 0.02;
    third.y = second.y + second.film_width + 0.02;
    for (synthetic::StripSpec* strip : {&first, &second, &third}) strip->marks = synthetic::EdgeMarks::none;
    check_pictures(sheet_of({first, second, third}));
}

TEST_CASE("a picture's place does not follow a bar that its camera's other pictures contradict") {
    synthetic::StripSpec strip = strip_of({picture(1), picture(2), picture(3), picture(4), picture(5)});
    strip.gap_jitter = 0.03;
    strip.frames[2].dark_edges.push_back({0, 1.2, 0, 1e-3});
    check_pictures(sheet_of({strip}));
}

TEST_CASE("the inner edge of a bar along the outermost end does not pass for the picture's end") {
    synthetic::StripSpec strip = strip_of({picture(1), picture(2), picture(3), picture(4), picture(5)});
    strip.gap_jitter = 0.03;
    strip.frames[0].dark_edges.push_back({0, 2.2, 0, 1e-3});
    check_pictures(sheet_of({strip}));
}

TEST_CASE("a picture that is black for a quarter of its length is not laid over its neighbour instead") {
    synthetic::StripSpec strip = strip_of({picture(1), picture(2), picture(3), picture(4)});
    strip.gap_jitter = 0.03;
    strip.frames[2].dark_edges.push_back({2, 9, 0, 1e-3});
    check_pictures(sheet_of({strip}));
}

TEST_CASE("a blank frame under residue is not laid over its neighbour as a picture") {
    synthetic::StripSpec strip = strip_of({picture(2), picture(4), picture(6), picture(8)});
    strip.frames[0].scene.kind = synthetic::SceneKind::blank;
    strip.frames[1].scene.kind = synthetic::SceneKind::chart;
    strip.gap_jitter = 0.03;
    strip.residue.density = 0.3;
    strip.residue.spots_per_frame = 8;
    check_pictures(sheet_of({strip}));
}

TEST_CASE("slits of bare light beside the film in a wide opening, too narrow to be told from it, do not make it no film") {
    constexpr double kCoarseDpi = 200;
    for (const double opening : {36.0, 36.4, 36.7}) {
        synthetic::SheetSpec spec = sheet_around({strip_of({picture(1), picture(2), picture(3)})}, kCoarseDpi, 5);
        spec.holder.kind = synthetic::HolderKind::shows_perforations;
        spec.holder.opening = opening;
        const synthetic::Sheet sheet = synthetic::draw_sheet(spec);
        const SheetLayout layout = find_frames(overview_of(sheet, kCoarseDpi), {}).value();
        CAPTURE(opening);
        REQUIRE(layout.strips.size() == 1);
        REQUIRE(layout.strips[0].frames.size() == 3);
        for (std::size_t f = 0; f < 3; ++f) CHECK(worst_corner_mm(kCoarseDpi, layout.strips[0].frames[f], sheet.strips[0].frames[f]) < kCornerMm);
    }
}

TEST_CASE("a picture that is black at the strip's end is not laid over its neighbour, though the camera winds unevenly") {
    const double uneven = GENERATE(-0.8, 0.9);
    synthetic::StripSpec strip = strip_of({picture(1), picture(2, uneven), picture(4, -uneven), picture(5, uneven)});
    strip.gap_jitter = 0.3;
    strip.frames[3].dark_edges.push_back({2, 9.5, 0, 1e-3});
    const synthetic::SheetSpec spec = sheet_of({strip});
    const synthetic::Sheet sheet = synthetic::draw_sheet(spec);
    const SheetLayout layout = find_frames(overview_of(sheet, kDpi), {}).value();
    REQUIRE(layout.strips.size() == 1);
    REQUIRE(layout.strips[0].frames.size() == 4);
    // Its own far end is nowhere to be seen; the gate's width is known from the others.
    for (std::size_t f = 0; f < 4; ++f) CHECK(worst_corner_mm(kDpi, layout.strips[0].frames[f], sheet.strips[0].frames[f]) < 0.2);
}

TEST_CASE("single half frames, wider than long, lie as their perforations do") {
    const bool blank = GENERATE(false, true);
    synthetic::StripSpec strip = strip_of({picture(2)});
    strip.frame_width = 18;
    strip.lead = strip.tail = 1;
    if (blank) strip.frames[0].scene.kind = synthetic::SceneKind::blank;
    synthetic::SheetSpec spec = sheet_of({strip});
    spec.holder.kind = synthetic::HolderKind::shows_perforations;
    const synthetic::Sheet sheet = synthetic::draw_sheet(spec);
    const SheetLayout layout = find_frames(overview_of(sheet, kDpi), {}).value();
    REQUIRE(layout.strips.size() == 1);
    CHECK(layout.strips[0].perforations_seen);
    CHECK(layout.strips[0].direction == StripDirection::horizontal);
    if (blank) return;  // nothing tells where the gate was
    REQUIRE(layout.strips[0].frames.size() == 1);
    CHECK(worst_corner_mm(kDpi, layout.strips[0].frames[0], sheet.strips[0].frames[0]) < kCornerMm);
}

TEST_CASE("a gate wider than the nominal stands against a bar whose inner edge would make it narrower") {
    synthetic::StripSpec strip = strip_of({picture(1), picture(2), picture(4)});
    strip.frame_width = 36.4;
    strip.frame_pitch = 38.2;
    strip.gap_jitter = 0.03;
    strip.frames[2].dark_edges.push_back({0, 0.7, 0, 1e-3});
    check_pictures(sheet_of({strip}));
}

namespace {

/// One of the suite's sheets, as its file holds it: bare light may lie beyond its white.
struct SuiteSheet {
    synthetic::SheetSpec spec;
    synthetic::Sheet sheet;
    SheetLayout layout;
    explicit SuiteSheet(std::uint64_t seed) : spec(synthetic::random_sheet(seed)), sheet(synthetic::draw_sheet(spec)) {
        sheet.light = cv::min(sheet.light, 1.0);
        layout = find_frames(overview_of(sheet, spec.dpi), {}).value();
    }
    [[nodiscard]] double corner_mm(std::size_t strip, std::size_t found, std::size_t drawn) const {
        return worst_corner_mm(spec.dpi, layout.strips.at(strip).frames.at(found), sheet.strips.at(strip).frames.at(drawn));
    }
};

/// Every picture of a sheet of the suite is in its place; but those that the film's end cuts, unless `cut_too`.
SheetLayout check_suite_sheet(std::uint64_t seed, bool cut_too = false) {
    const SuiteSheet drawn(seed);
    const auto& [spec, sheet, layout] = drawn;
    REQUIRE(layout.strips.size() == sheet.strips.size());
    for (std::size_t s = 0; s < layout.strips.size(); ++s)
        for (const synthetic::FrameTruth& t : sheet.strips[s].frames) {
            if (t.content != synthetic::FrameContent::picture || (t.cut_off && !cut_too)) continue;
            double nearest = 1e9;
            for (const FrameBox& f : layout.strips[s].frames) nearest = std::min(nearest, worst_corner_mm(spec.dpi, f, t));
            CAPTURE(seed, s);
            CHECK(nearest < kCornerMm);
        }
    return layout;
}

}  // namespace

TEST_CASE("one strip whose clear film is as bright as no film does not hide the bare light in the others' openings") {
    // The suite's sheet 178: five strips in a holder, the third black and white with such a rebate, and dust on clear film.
    CHECK(check_suite_sheet(178, true).strips.size() == 5);
}

TEST_CASE("a fogged frame laid over a picture is fogged all the same") {
    // The suite's sheet 111: three frames under a fogged leader, the last of them laid over the first picture.
    const SheetLayout layout = check_suite_sheet(111);
    const StripBox& last = layout.strips.back();
    REQUIRE(last.frames.size() == 6);
    for (std::size_t f = 0; f < 3; ++f) CHECK(last.frames[f].kind == FrameKind::fogged);
    for (std::size_t f = 3; f < 6; ++f) CHECK(last.frames[f].kind == FrameKind::picture);
}

TEST_CASE("a line in a picture does not make the next one overlap it when its other end does not show") {
    // Sheet 162: the third strip's last half frame is cut off by the film's end, and meets the one before it without a gap.
    const SheetLayout layout = check_suite_sheet(162);
    const std::vector<FrameBox>& frames = layout.strips[2].frames;
    REQUIRE(frames.size() == 5);
    CHECK(frames.back().cut_off);
}

TEST_CASE("bare light beyond both ends of clear film is not a lamp that is brighter at its edges") {
    // Sheet 59: one strip of roll film with a rebate nearly as bright as no film, and bare light at both its ends.
    const SheetLayout layout = check_suite_sheet(59);
    CHECK(layout.strips[0].frames.size() == 2);
}

TEST_CASE("film ends where bare light begins, not where the holder's opening does") {
    // Sheet 235: the holder's opening reaches 1.2 mm beyond both ends of the film, and the last frame is cut off.
    const SuiteSheet drawn(235);
    const FrameBox& last = drawn.layout.strips.at(0).frames.back();
    const synthetic::FrameTruth& truth = drawn.sheet.strips[0].frames.back();
    CHECK(last.cut_off);
    double furthest = 0, film_end = 0;
    for (const PointPx& p : last.corners) furthest = std::max(furthest, p.x);
    for (const auto& p : truth.on_film_px) film_end = std::max(film_end, p[0]);
    CHECK(std::abs(furthest - film_end) * 25.4 / drawn.spec.dpi < kCornerMm);
}

TEST_CASE("beyond the inner edge of a bar that is not quite black the faint outer one is the picture's end") {
    // Sheet 117: one frame, a bar of .6 mm along its end, whose own end makes a step of .05.
    check_suite_sheet(117);
}

TEST_CASE("a bar's inner edge taken for the end of a picture gives way to the end a gate's width from it that fits the winding") {
    // Sheet 206: a bar of 2.3 mm along the beginning of the first strip's second frame, a blank one behind it.
    const SuiteSheet drawn(206);
    CHECK(drawn.corner_mm(0, 1, 1) < kCornerMm);
}

TEST_CASE("strips that touch and are shorter than they are wide are two strips, at the scale the file states") {
    // Sheet 153: two bits of roll film, one frame on each.
    const SuiteSheet drawn(153);
    REQUIRE(drawn.layout.strips.size() == 2);
    CHECK(drawn.layout.scale_origin == ScaleOrigin::file);
    CHECK(drawn.corner_mm(0, 0, 0) < 0.2);
}

TEST_CASE("a half frame that shows all its edges is no full frame cut off, whatever the other strips hold") {
    // Sheet 157: the third strip is the only one of a half-frame camera.
    const SuiteSheet drawn(157);
    REQUIRE(drawn.layout.strips.size() == 6);
    CHECK(drawn.layout.strips[2].format == FrameFormat::half);
    CHECK(drawn.corner_mm(2, 0, 0) < kCornerMm);
}
