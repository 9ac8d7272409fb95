// SPDX-License-Identifier: GPL-3.0-or-later
// The suite's judge, judged: errors it is given come back, whatever the order of corners, and nothing counts twice.
#include "frame_suite/match.h"
#include "frame_suite/summary.h"

#include <catch2/catch.hpp>

#include <algorithm>

using namespace basefog;
using namespace basefog::suite;

namespace {

constexpr double kPxPerMm = 10, kWidth = 1200, kHeight = 500;

synthetic::Corners box(double x0, double y0, double x1, double y1) { return {{{x0, y0}, {x1, y0}, {x1, y1}, {x0, y1}}}; }
Quad quad(const synthetic::Corners& c) { return {PointPx{c[0][0], c[0][1]}, PointPx{c[1][0], c[1][1]}, PointPx{c[2][0], c[2][1]}, PointPx{c[3][0], c[3][1]}}; }

synthetic::FrameTruth truth_at(double x0) {
    synthetic::FrameTruth truth;
    truth.corners_px = truth.on_film_px = box(x0, 100, x0 + 360, 340);
    truth.edge_step = {0.3, 0.3, 0.3, 0.3};
    return truth;
}

/// Three frames of one strip.
synthetic::Sheet three_frames() {
    synthetic::Sheet sheet;
    sheet.strips.resize(1);
    for (int i = 0; i < 3; ++i) {
        sheet.strips[0].frames.push_back(truth_at(20 + 380.0 * i));
        sheet.strips[0].frames.back().number = i + 1;
    }
    return sheet;
}

SheetLayout layout_of(const std::vector<Quad>& quads, double confidence = 0.97) {
    SheetLayout layout;
    layout.strips.resize(1);
    for (const Quad& q : quads) {
        FrameBox frame;
        frame.corners = q;
        frame.confidence = confidence;
        layout.strips[0].frames.push_back(frame);
    }
    return layout;
}

SheetOutcome matched(const SheetLayout& layout, const synthetic::Sheet& sheet) {
    SheetOutcome out;
    match(layout, sheet, kWidth, kHeight, kPxPerMm, out);
    return out;
}

}  // namespace

TEST_CASE("a corner's error comes back in any order of the corners") {
    synthetic::FrameTruth truth = truth_at(20);
    Quad found = quad(truth.corners_px);
    found[2] = {found[2].x + 3, found[2].y - 4};
    CHECK(corner_error_px(found, truth, kWidth, kHeight) == Approx(5));
    std::rotate(found.begin(), found.begin() + GENERATE(0, 1, 2, 3), found.end());
    if (GENERATE(false, true)) std::reverse(found.begin(), found.end());
    CHECK(corner_error_px(found, truth, kWidth, kHeight) == Approx(5));
}

TEST_CASE("where the film or the scan ends, either reading of a corner is right") {
    synthetic::FrameTruth truth = truth_at(20);
    truth.on_film_px = box(120, 100, 380, 340);
    CHECK(corner_error_px(quad(truth.corners_px), truth, kWidth, kHeight) == Approx(0));
    CHECK(corner_error_px(quad(truth.on_film_px), truth, kWidth, kHeight) == Approx(0));
    CHECK(corner_error_px(quad(box(70, 100, 380, 340)), truth, kWidth, kHeight) == Approx(50));
    CHECK(corner_error_px(quad(box(126, 100, 380, 340)), truth, kWidth, kHeight) == Approx(6));
    truth.in_opening_px = box(126, 100, 380, 340);  // a holder covers the film's end
    CHECK(corner_error_px(quad(box(126, 100, 380, 340)), truth, kWidth, kHeight) == Approx(0));
    truth = truth_at(-100);
    CHECK(corner_error_px(quad(box(0, 100, 260, 340)), truth, kWidth, kHeight) == Approx(0).margin(1e-3));  // float polygons
    // Inside the scan there is no such excuse.
    CHECK(corner_error_px(quad(box(0, 100, 240, 340)), truth, kWidth, kHeight) == Approx(20).margin(1e-3));
}

TEST_CASE("frames are matched once, and what is left over is a stray") {
    const synthetic::Sheet sheet = three_frames();
    const Quad first = quad(sheet.strips[0].frames[0].corners_px), last = quad(sheet.strips[0].frames[2].corners_px);
    const Quad between = quad(box(210, 100, 570, 340));
    const SheetOutcome out = matched(layout_of({first, first, between, last}), sheet);
    REQUIRE(out.frames.size() == 3);
    CHECK(out.frames[0].found);
    CHECK_FALSE(out.frames[1].found);
    CHECK(out.frames[2].found);
    CHECK(out.strays.size() == 2);
    const Summary summary = summarise({out});
    CHECK(summary.all.recall() == Approx(2.0 / 3));
    CHECK(summary.false_pictures == 2);
    CHECK(summary.sure == 4);  // a frame invented with confidence counts against the calibration
    CHECK(summary.sure_kept == 2);
    CHECK(summary.worst == std::vector<std::uint64_t>{0});
}

TEST_CASE("half of a frame is not the frame, and one hardly on the film is no loss") {
    synthetic::Sheet sheet = three_frames();
    CHECK_FALSE(matched(layout_of({quad(box(20, 100, 200, 340))}), sheet).frames[0].found);
    sheet.strips[0].frames[0].visible_share = 0.3;
    sheet.strips[0].frames[0].on_film_px = box(272, 100, 380, 340);
    const SheetOutcome unseen = matched(layout_of({}), sheet);
    CHECK(summarise({unseen}).all.wanted == 2);
    const SheetOutcome roughly = matched(layout_of({quad(box(200, 100, 380, 340))}), sheet);
    CHECK(summarise({roughly}).false_pictures == 0);
}

TEST_CASE("errors count where an end of the frame shows, or where the strip tells the width") {
    synthetic::Sheet sheet = three_frames();
    auto& frames = sheet.strips[0].frames;
    frames[0].edge_step = {0.3, 0.3, 0.3, 0.0};
    frames[1].edge_step = {0.3, 0.0, 0.3, 0.0};
    std::vector<Quad> found;
    for (const auto& frame : frames) found.push_back(quad(frame.corners_px));
    const SheetOutcome out = matched(layout_of(found), sheet);
    CHECK(out.frames[0].edges_seen);
    CHECK_FALSE(out.frames[1].edges_seen);
    CHECK(out.frames[2].edges_seen);
    const Summary summary = summarise({out});
    CHECK(summary.all.errors_mm.size() == 2);
    CHECK(summary.all.not_measurable == 1);
}

TEST_CASE("a long side that does not show leaves a frame's place open only where no frame of the strip tells the height") {
    synthetic::Sheet sheet = three_frames();
    auto& frames = sheet.strips[0].frames;
    std::vector<Quad> found;
    for (const auto& frame : frames) found.push_back(quad(frame.corners_px));
    frames[0].edge_step = {0.0, 0.3, 0.3, 0.3};
    frames[1].edge_step = {0.0, 0.3, 0.0, 0.3};
    const SheetOutcome told = matched(layout_of(found), sheet);
    CHECK(told.frames[0].edges_seen);
    CHECK_FALSE(told.frames[1].edges_seen);
    CHECK(told.frames[2].edges_seen);
    for (auto& frame : frames) frame.edge_step = {0.0, 0.3, 0.3, 0.3};
    for (const FrameOutcome& frame : matched(layout_of(found), sheet).frames) CHECK_FALSE(frame.edges_seen);
}

TEST_CASE("quantiles are nearest ranks and limits are checked on them") {
    Tally tally;
    for (int i = 1; i <= 100; ++i) {
        FrameOutcome frame;
        frame.content = frame.found_kind = "picture";
        frame.found = true;
        frame.error_mm = i / 1000.0;
        tally.add(frame);
    }
    CHECK(tally.quantile_mm(0.5) == Approx(0.050));
    CHECK(tally.quantile_mm(0.95) == Approx(0.095));
    CHECK(tally.quantile_mm(1) == Approx(0.100));
    Summary summary;
    summary.all = tally;
    CHECK(broken_limits(summary).empty());
    summary.all.errors_mm.back() = 0.36;
    CHECK(broken_limits(summary).size() == 1);
    summary.all.wanted = 101;
    CHECK(broken_limits(summary).size() == 2);
    summary.false_pictures = 1;
    summary.sure = 100;
    summary.sure_kept = 94;
    CHECK(broken_limits(summary).size() == 4);
}
