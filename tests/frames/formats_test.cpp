// SPDX-License-Identifier: GPL-3.0-or-later
// Formats, cut-off and overlapping frames, bow and perforations, on sheets drawn from the trade's dimensions (see
// drawn_sheet.h for their sources; those of half, panoramic and roll film frames are from memory).
#include "drawn_sheet.h"

#include "basefog/frames/find_frames.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;
using namespace basefog::drawn;

namespace {

/// As in find_frames_test.cpp: half of what a person sees on a crop.
constexpr double kCloseMm = 0.1;

struct Camera {
    FrameFormat format;
    double along, across, gap;
};
const Camera kCameras[] = {
    {FrameFormat::full, 36, 24, 2},        {FrameFormat::half, 18, 24, 1},       {FrameFormat::panoramic, 65, 24, 6.25},
    {FrameFormat::roll_6x45, 41.5, 56, 5}, {FrameFormat::roll_6x6, 56, 56, 5.5}, {FrameFormat::roll_6x7, 69.5, 56, 5.5},
};

StripPlan strip_for(const Camera& camera, int n, std::uint64_t seed) {
    StripPlan strip = strip_of(n, seed);
    strip.frame_width = camera.along;
    strip.frame_height = camera.across;
    for (FramePlan& f : strip.frames) f.gap_before = camera.gap;
    strip.tail = camera.gap;
    if (camera.across > 30) {
        strip.film_width = 61.5;
        strip.perforated = false;
    }
    return strip;
}

double length_of(const StripPlan& strip) {
    double length = strip.tail;
    for (const FramePlan& f : strip.frames) length += f.gap_before + strip.frame_width;
    return length;
}

SheetPlan sheet_for(StripPlan strip) {
    SheetPlan plan;
    plan.width_mm = length_of(strip) + 16;
    plan.height_mm = strip.film_width + 20;
    strip.centre_x = plan.width_mm / 2;
    strip.centre_y = plan.height_mm / 2;
    plan.opening_height = strip.frame_height + 2;
    plan.strips = {std::move(strip)};
    return plan;
}

SheetLayout found_on(const DrawnSheet& sheet, const FindOptions& options = {}) {
    const auto layout = find_frames(sheet.overview, options);
    REQUIRE(layout.has_value());
    return *layout;
}

double worst_corner_mm(const Quad& found, const Quad& truth, const SheetPlan& plan) {
    double worst = 0;
    for (std::size_t i = 0; i < 4; ++i) worst = std::max(worst, distance(found[i], truth[i]));
    return worst / (plan.px_per_mm * plan.factor);
}

void check_frames(const StripBox& strip, const DrawnSheet& sheet, const SheetPlan& plan, double tolerance = kCloseMm) {
    REQUIRE(strip.frames.size() == sheet.frames.size());
    for (std::size_t i = 0; i < strip.frames.size(); ++i) {
        CAPTURE(i);
        CHECK(worst_corner_mm(strip.frames[i].corners, sheet.frames[i].corners, plan) < tolerance);
    }
}

}  // namespace

TEST_CASE("each format is told from the film, in a holder and on glass") {
    for (const Camera& camera : kCameras) {
        for (const bool holder : {false, true}) {
            CAPTURE(name_of(camera.format), holder);
            SheetPlan plan = sheet_for(strip_for(camera, 3, 7));
            plan.holder = holder;
            const DrawnSheet sheet = draw(plan);
            const SheetLayout layout = found_on(sheet);
            REQUIRE(layout.strips.size() == 1);
            CHECK(layout.strips[0].format == camera.format);
            CHECK(layout.strips[0].format_confidence > 0.5);
            check_frames(layout.strips[0], sheet, plan);
        }
    }
}

TEST_CASE("a format that is told is used, and no other") {
    SheetPlan plan = sheet_for(strip_for(kCameras[1], 4, 8));
    const DrawnSheet sheet = draw(plan);
    FindOptions options;
    options.format = FrameFormat::half;
    CHECK(found_on(sheet, options).strips.at(0).format == FrameFormat::half);
    options.format = FrameFormat::full;
    for (const StripBox& strip : found_on(sheet, options).strips) CHECK(strip.format == FrameFormat::full);
}

TEST_CASE("formats' names are read back") {
    for (const FormatSize& size : kFormats) CHECK(format_named(size.name) == size.format);
    CHECK(format_named("auto") == FrameFormat::automatic);
    CHECK_FALSE(format_named("36 x 24").has_value());
    CHECK_FALSE(format_named("").has_value());
}

TEST_CASE("a line down the middle of every picture does not make half frames of them") {
    StripPlan strip = strip_of(4, 21);
    for (FramePlan& f : strip.frames) f.scene = Scene::shapes;
    const DrawnSheet sheet = draw(sheet_for(strip));
    CHECK(found_on(sheet).strips.at(0).format == FrameFormat::full);
}

TEST_CASE("frames cut off by the strip's ends are held as far as they go") {
    StripPlan strip = strip_of(4, 31);
    strip.frames.front().gap_before = -14;
    strip.tail = -9;
    SheetPlan plan = sheet_for(strip);
    plan.holder = GENERATE(false, true);
    const DrawnSheet sheet = draw(plan);
    const SheetLayout layout = found_on(sheet);
    REQUIRE(layout.strips.size() == 1);
    const auto& frames = layout.strips[0].frames;
    REQUIRE(frames.size() == 4);
    CHECK(frames[0].cut_off);
    CHECK_FALSE(frames[1].cut_off);
    CHECK(frames[3].cut_off);
    const double px = plan.px_per_mm, first = plan.strips[0].centre_x - length_of(strip) / 2, last = first + length_of(strip);
    CHECK(frames[0].corners[0].x / px == Approx(first).margin(kCloseMm));
    CHECK(distance(frames[0].corners[1], sheet.frames[0].corners[1]) / px < kCloseMm);
    CHECK(frames[3].corners[1].x / px == Approx(last).margin(kCloseMm));
    CHECK(distance(frames[3].corners[0], sheet.frames[3].corners[0]) / px < kCloseMm);
}

TEST_CASE("frames that touch or overlap keep the gate's width") {
    StripPlan strip = strip_of(5, 41);
    strip.frames[2].gap_before = GENERATE(0.0, -3.0, -6.0);
    SheetPlan plan = sheet_for(strip);
    const DrawnSheet sheet = draw(plan);
    const SheetLayout layout = found_on(sheet);
    REQUIRE(layout.strips.size() == 1);
    check_frames(layout.strips[0], sheet, plan, 0.15);  // one end of each is inferred from the other
}

TEST_CASE("a strip that runs off the scan is cut at the scan's edge") {
    SheetPlan plan = sheet_for(strip_of(3, 51));
    plan.strips[0].centre_y = 8;  // a third of the film lies outside
    const DrawnSheet sheet = draw(plan);
    const SheetLayout layout = found_on(sheet);
    REQUIRE(layout.strips.size() == 1);
    REQUIRE(layout.strips[0].frames.size() == 3);
    for (std::size_t i = 0; i < 3; ++i) {
        const FrameBox& f = layout.strips[0].frames[i];
        CHECK(f.cut_off);
        CHECK(f.corners[0].y == Approx(0).margin(1e-6));
        CHECK(distance(f.corners[2], sheet.frames[i].corners[2]) / plan.px_per_mm < kCloseMm);
        CHECK(distance(f.corners[3], sheet.frames[i].corners[3]) / plan.px_per_mm < kCloseMm);
    }
}

TEST_CASE("frames follow a strip that bows, and the bow is measured") {
    const bool holder = GENERATE(false, true);
    const double bow = GENERATE(-0.6, 0.4);
    CAPTURE(holder, bow);
    StripPlan strip = strip_of(6, 61);
    strip.bow = bow;
    SheetPlan plan = sheet_for(strip);
    plan.holder = holder;
    const DrawnSheet sheet = draw(plan);
    const SheetLayout layout = found_on(sheet);
    REQUIRE(layout.strips.size() == 1);
    check_frames(layout.strips[0], sheet, plan);
    CHECK(layout.strips[0].bow.value.value() == Approx(bow).margin(0.05));  // a third of what 0.1 mm of corner allows
    const RegionMap map = label_regions(sheet.overview, layout, {});
    for (std::int64_t y = 0; y < map.labels.height(); ++y) {
        for (std::int64_t x = 0; x < map.labels.width(); ++x) {
            if (map.labels(x, y) != Region::picture) continue;
            const PointPx p{static_cast<double>(x) + 0.5, static_cast<double>(y) + 0.5};
            REQUIRE(std::any_of(sheet.frames.begin(), sheet.frames.end(), [&](const TrueFrame& f) { return contains(f.corners, p); }));
        }
    }
}

TEST_CASE("perforations tell long pitch from short, and shrinkage") {
    struct Stock {
        PerforationKind kind;
        double pitch, hole;
    };
    // Long pitch [SMPTE 102-2002]; hole heights and short pitch from secondary sources.
    const Stock stock = GENERATE(Stock{PerforationKind::long_pitch, 4.750, 1.981}, Stock{PerforationKind::short_pitch, 4.740, 1.854});
    const double shrunk = GENERATE(0.0, 0.004);
    StripPlan strip = strip_of(4, 71);
    strip.perforation_pitch = stock.pitch * (1 - shrunk);
    strip.hole_along = stock.hole * (1 - shrunk);
    const DrawnSheet sheet = draw(sheet_for(strip));
    const SheetLayout layout = found_on(sheet);
    REQUIRE(layout.strips.size() == 1);
    REQUIRE(layout.strips[0].perforations.has_value());
    const Perforations& p = *layout.strips[0].perforations;
    CHECK(p.kind == stock.kind);
    CHECK(p.kind_confidence > 0.95);
    // Four standard uncertainties; the pitch's own must be under the two kinds' difference, 0.010 mm.
    CHECK(p.pitch.std_uncertainty.value() < 0.002);
    CHECK(std::abs(p.pitch.value.value() - strip.perforation_pitch) < 4 * p.pitch.std_uncertainty.value());
    CHECK(p.hole_height.value.value() == Approx(strip.hole_along).margin(0.02));
    CHECK(p.shrinkage.value == Approx(shrunk).margin(0.001));
    CHECK(p.holes > 40);
}

TEST_CASE("a stated resolution some per cent off is corrected by the film") {
    for (const double error : {0.96, 1.04}) {
        for (const bool holder : {false, true}) {
            CAPTURE(error, holder);
            SheetPlan plan = sheet_for(strip_of(4, 81));
            plan.stated_error = error;
            plan.holder = holder;
            const DrawnSheet sheet = draw(plan);
            const SheetLayout layout = found_on(sheet);
            REQUIRE(layout.strips.size() == 1);
            check_frames(layout.strips[0], sheet, plan);
            CHECK(layout.scale.value() == Approx(plan.px_per_mm).epsilon(holder ? 0.01 : 0.003));
            CHECK(std::any_of(layout.findings.begin(), layout.findings.end(), [](const Finding& f) { return f.code == "resolution-contradicts-film"; }));
        }
    }
}
