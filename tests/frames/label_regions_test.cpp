// SPDX-License-Identifier: GPL-3.0-or-later
#include "drawn_sheet.h"

#include "basefog/frames/find_frames.h"

#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;
using namespace basefog::drawn;

namespace {

struct Drawn {
    SheetPlan plan;
    DrawnSheet sheet;
    SheetLayout layout;
    RegionMap map;
};

Drawn label(SheetPlan plan) {
    Drawn d{std::move(plan), {}, {}, {}};
    d.sheet = draw(d.plan);
    d.layout = find_frames(d.sheet.overview, {}).value();
    d.map = label_regions(d.sheet.overview, d.layout, {});
    return d;
}

SheetPlan two_frames() {
    SheetPlan plan;
    plan.width_mm = 100;
    StripPlan strip = strip_of(2, 5);
    strip.centre_x = 50;
    strip.hole_phase = 2.0;  // a perforation's middle, mm from the strip's start
    plan.strips = {strip};
    return plan;
}

/// The region at a place on the film, mm from its start and upper edge. The strip is 78 mm long, level, centred at (50, 30).
Region at_film(const Drawn& d, double u, double v) {
    const double x = 50 - 39 + u, y = 30 - 34.975 / 2 + v;
    return d.map.labels(static_cast<std::int64_t>(x * d.plan.px_per_mm), static_cast<std::int64_t>(y * d.plan.px_per_mm));
}

}  // namespace

TEST_CASE("regions on bare glass") {
    const Drawn d = label(two_frames());
    REQUIRE(d.layout.strips.size() == 1);
    CHECK(d.map.labels.width() == d.sheet.overview.pixels.width());
    CHECK(d.map.strip.height() == d.sheet.overview.pixels.height());
    CHECK(at_film(d, 20, 17) == Region::picture);
    CHECK(at_film(d, 2.5, 6) == Region::picture);
    CHECK(at_film(d, 2.0, 17) == Region::unsure);      // on the first picture's edge
    CHECK(at_film(d, 1.0, 17) == Region::clear_film);  // the leader
    CHECK(at_film(d, 39, 17) == Region::clear_film);   // the gap
    CHECK(at_film(d, 20, 1.0) == Region::clear_film);  // outside the perforations
    CHECK(at_film(d, 2.0, 2.01 + 1.4) == Region::bare_light);
    CHECK(at_film(d, 2.0 + 4.75 * 7, 34.975 - 2.01 - 1.4) == Region::bare_light);
    CHECK(at_film(d, 2.0 + 4.75 / 2, 2.01 + 1.4) == Region::clear_film);  // between two
    CHECK(at_film(d, 2.0 + 0.99, 2.01 + 1.4) == Region::unsure);          // a rim
    CHECK(at_film(d, -4, 17) == Region::bare_light);
    CHECK(at_film(d, 20, -4) == Region::bare_light);
    CHECK(at_film(d, 0, 17) == Region::unsure);
}

TEST_CASE("regions in a holder: beyond the strip's end is bare light, a dense picture is never holder") {
    SheetPlan plan = two_frames();
    plan.holder = true;
    plan.strips[0].frames[0].kind = FrameKind::fogged;
    plan.strips[0].frames[0].stops = 4;  // as dense as the film goes
    plan.strips[0].frames[1].scene = Scene::textured;
    plan.strips[0].frames[1].stops = 4;
    const Drawn d = label(plan);
    REQUIRE(d.layout.strips.size() == 1);
    CHECK(at_film(d, -1, 17) == Region::bare_light);
    CHECK(at_film(d, 20, -5) == Region::holder);
    CHECK(at_film(d, -8, 17) == Region::holder);
    CHECK(at_film(d, 20, 17) == Region::fogged);
    CHECK(at_film(d, 60, 17) == Region::picture);
    CHECK(at_film(d, 39, 17) == Region::clear_film);
    for (std::int64_t y = 0; y < d.map.labels.height(); ++y) {
        for (std::int64_t x = 0; x < d.map.labels.width(); ++x) {
            const PointPx p{static_cast<double>(x) + 0.5, static_cast<double>(y) + 0.5};
            if (contains(d.layout.strips[0].corners, p)) REQUIRE(d.map.labels(x, y) != Region::holder);
        }
    }
}

TEST_CASE("no picture pixel lies outside the true frame, nor clear film inside it") {
    SheetPlan plan = two_frames();
    plan.strips[0].angle_deg = 1.3;
    const Drawn d = label(plan);
    int pictures = 0, clear = 0;
    for (std::int64_t y = 0; y < d.map.labels.height(); ++y) {
        for (std::int64_t x = 0; x < d.map.labels.width(); ++x) {
            const PointPx p{static_cast<double>(x) + 0.5, static_cast<double>(y) + 0.5};
            const bool in = contains(d.sheet.frames[0].corners, p) || contains(d.sheet.frames[1].corners, p);
            if (d.map.labels(x, y) == Region::picture) {
                ++pictures;
                REQUIRE(in);
            }
            if (d.map.labels(x, y) == Region::clear_film) {
                ++clear;
                REQUIRE_FALSE(in);
                REQUIRE(d.map.strip(x, y) == 0);
            }
        }
    }
    const double mm2 = d.plan.px_per_mm * d.plan.px_per_mm;
    CHECK(pictures > 0.95 * 2 * 36 * 24 * mm2);
    CHECK(clear > 0.4 * (78 * 34.975 - 2 * 36 * 24 - 32 * 5.5) * mm2);  // margins take the rest of the narrow parts
}

TEST_CASE("blank frames are clear film, and a smear on the rebate stays so") {
    SheetPlan plan = two_frames();
    plan.strips[0].frames[1].kind = FrameKind::blank;
    plan.strips[0].smears = 30;
    const Drawn d = label(plan);
    CHECK(at_film(d, 60, 17) == Region::clear_film);
    CHECK(at_film(d, 60, 1.0) == Region::clear_film);
    CHECK(at_film(d, 20, 17) == Region::picture);
}

TEST_CASE("a layout made by hand is labelled as given, with no strip at all too") {
    const SheetPlan plan = two_frames();
    const DrawnSheet sheet = draw(plan);
    SheetLayout layout;
    layout.scale = PixelsPerMm(plan.px_per_mm);
    StripBox strip;
    strip.corners = {PointPx{11 * 6, 13 * 6}, PointPx{89 * 6, 13 * 6}, PointPx{89 * 6, 47 * 6}, PointPx{11 * 6, 47 * 6}};
    FrameBox frame;
    frame.by_hand = true;
    frame.corners = {PointPx{20 * 6, 20 * 6}, PointPx{40 * 6, 20 * 6}, PointPx{40 * 6, 40 * 6}, PointPx{20 * 6, 40 * 6}};
    strip.frames = {frame};
    layout.strips = {strip};
    const RegionMap map = label_regions(sheet.overview, layout, {});
    CHECK(map.labels(30 * 6, 30 * 6) == Region::picture);
    CHECK(map.strip(30 * 6, 30 * 6) == 0);
    const RegionMap none = label_regions(sheet.overview, {}, {});
    CHECK(none.labels(2, 2) == Region::bare_light);
    CHECK(none.strip(30 * 6, 30 * 6) == -1);
    CHECK(label_regions({}, layout, {}).labels.empty());
}
