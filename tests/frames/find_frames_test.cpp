// SPDX-License-Identifier: GPL-3.0-or-later
// Sheets drawn from published film dimensions (see drawn_sheet.h for the sources) with every corner known.
#include "drawn_sheet.h"

#include "basefog/frames/find_frames.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

using namespace basefog;
using namespace basefog::drawn;

namespace {

/// The drawing's own edges are exact; what remains is noise, grain and the sampling of about 6 pixels per mm.
/// A tenth of a millimetre is half of what a person sees on a crop, and under the 0.12 mm the design asks of 95 %.
constexpr double kCloseMm = 0.1;

std::vector<const FrameBox*> all_frames(const SheetLayout& layout) {
    std::vector<const FrameBox*> out;
    for (const StripBox& strip : layout.strips) {
        for (const FrameBox& frame : strip.frames) out.push_back(&frame);
    }
    return out;
}

double corner_error_mm(const Quad& found, const Quad& truth, const SheetPlan& plan) {
    double worst = 0;
    for (int i = 0; i < 4; ++i) worst = std::max(worst, distance(found[i], truth[i]));
    return worst / (plan.px_per_mm * plan.factor);
}

SheetLayout found_on(const DrawnSheet& sheet) {
    const auto layout = find_frames(sheet.overview, {});
    REQUIRE(layout.has_value());
    return *layout;
}

/// Every true frame found, in order, none added; pictures within `tolerance`.
void check_all(const SheetLayout& layout, const DrawnSheet& sheet, const SheetPlan& plan, double tolerance = kCloseMm) {
    const auto found = all_frames(layout);
    REQUIRE(layout.strips.size() == plan.strips.size());
    REQUIRE(found.size() == sheet.frames.size());
    for (std::size_t i = 0; i < found.size(); ++i) {
        CAPTURE(i);
        CHECK(found[i]->kind == sheet.frames[i].kind);
        if (sheet.frames[i].kind == FrameKind::blank) continue;
        CHECK(corner_error_mm(found[i]->corners, sheet.frames[i].corners, plan) < tolerance);
        CHECK(found[i]->confidence > 0.8);
    }
}

bool has_finding(const SheetLayout& layout, const std::string& code) {
    return std::any_of(layout.findings.begin(), layout.findings.end(), [&](const Finding& f) { return f.code == code; });
}

SheetPlan sheet_with(std::vector<StripPlan> strips) {
    SheetPlan plan;
    for (std::size_t i = 0; i < strips.size(); ++i) strips[i].centre_y = 30 + 45 * static_cast<double>(i);
    plan.height_mm = 60 + 45 * static_cast<double>(strips.size() - 1);
    plan.strips = std::move(strips);
    return plan;
}

Overview even_sheet(std::int64_t w, std::int64_t h, float light) {
    Overview o;
    o.pixels = Image<LinearRgbi>(w, h, {light, light, light, 0});
    o.scan_width = w;
    o.scan_height = h;
    o.scan_resolution = PixelsPerMm(6);
    return o;
}

}  // namespace

TEST_CASE("a strip in a holder that hides its perforations") {
    SheetPlan plan = sheet_with({strip_of(6)});
    plan.holder = true;
    const DrawnSheet sheet = draw(plan);
    const SheetLayout layout = found_on(sheet);
    check_all(layout, sheet, plan);
    CHECK(layout.scale_origin == ScaleOrigin::file);
    CHECK(layout.strips[0].direction == StripDirection::horizontal);
    CHECK_FALSE(layout.strips[0].perforations_seen);
    CHECK(layout.findings.empty());
}

TEST_CASE("strips on bare glass, tilted either way, one of them black and white") {
    std::vector<StripPlan> strips{strip_of(5, 3), strip_of(5, 4)};
    strips[0].angle_deg = 1.7;
    strips[1].angle_deg = -1.2;
    strips[1].silver = true;
    strips[1].base = {0.22, 0.22, 0.22};
    SheetPlan plan = sheet_with(strips);
    const DrawnSheet sheet = draw(plan);
    const SheetLayout layout = found_on(sheet);
    check_all(layout, sheet, plan);
    // 0.02 degrees is 0.07 mm over five frames.
    CHECK(layout.strips[0].angle_deg == Approx(1.7).margin(0.02));
    CHECK(layout.strips[1].angle_deg == Approx(-1.2).margin(0.02));
    CHECK(layout.strips[0].perforations_seen);
    CHECK(layout.strips[0].confidence > 0.9);
}

TEST_CASE("a strip that lies vertically is read from its top end downwards") {
    SheetPlan plan = sheet_with({strip_of(3, 5)});
    StripPlan& strip = plan.strips[0];
    strip.vertical = true;
    strip.angle_deg = 0.8;
    strip.centre_x = 30;
    strip.centre_y = 64;
    plan.width_mm = 60;
    plan.height_mm = 128;
    const DrawnSheet sheet = draw(plan);
    const SheetLayout layout = found_on(sheet);
    check_all(layout, sheet, plan);
    CHECK(layout.strips[0].direction == StripDirection::vertical);
    CHECK(layout.strips[0].angle_deg == Approx(0.8).margin(0.03));
    const Quad& first = layout.strips[0].frames[0].corners;
    CHECK(first[0].x > first[3].x);  // the picture's top-left corner is the scan's top-right one
    CHECK(first[0].y < first[1].y);
}

TEST_CASE("turning the scan by 90 degrees turns the frames") {
    SheetPlan plan = sheet_with({strip_of(3, 8), strip_of(2, 9)});
    plan.width_mm = 128;
    for (StripPlan& s : plan.strips) s.centre_x = 64;
    plan.strips[0].angle_deg = 0.6;
    plan.holder = true;
    plan.opening_height = 27;
    const DrawnSheet sheet = draw(plan);
    const SheetLayout lying = found_on(sheet);

    const Image<LinearRgbi>& in = sheet.overview.pixels;
    Overview turned;
    turned.pixels = Image<LinearRgbi>(in.height(), in.width());
    for (std::int64_t y = 0; y < in.height(); ++y) {
        for (std::int64_t x = 0; x < in.width(); ++x) turned.pixels(in.height() - 1 - y, x) = in(x, y);  // clockwise
    }
    turned.scan_resolution = sheet.overview.scan_resolution;
    const auto standing = find_frames(turned, {});
    REQUIRE(standing.has_value());
    REQUIRE(standing->strips.size() == 2);
    // What lay at the bottom now stands at the left, and is read first.
    for (int s = 0; s < 2; ++s) {
        const auto& a = lying.strips[static_cast<std::size_t>(s)].frames;
        const auto& b = standing->strips[static_cast<std::size_t>(1 - s)].frames;
        REQUIRE(a.size() == b.size());
        for (std::size_t i = 0; i < a.size(); ++i) {
            for (int k = 0; k < 4; ++k) {
                const PointPx want{static_cast<double>(in.height()) - a[i].corners[k].y, a[i].corners[k].x};
                CHECK(distance(b[i].corners[k], want) / plan.px_per_mm < 0.03);  // cells fall differently; half of the floor of an edge's uncertainty each
            }
        }
    }
}

TEST_CASE("blank, fogged and very dark frames") {
    StripPlan strip = strip_of(6, 11);
    strip.frames[0].kind = FrameKind::blank;
    strip.frames[1].kind = FrameKind::fogged;
    strip.frames[2].stops = -3;
    strip.frames[4].kind = FrameKind::blank;
    strip.frames[5].scene = Scene::night;
    const bool holder = GENERATE(true, false);
    SheetPlan plan = sheet_with({strip});
    plan.holder = holder;
    CAPTURE(holder);
    const DrawnSheet sheet = draw(plan);
    const SheetLayout layout = found_on(sheet);
    check_all(layout, sheet, plan, 0.2);
    const auto& frames = layout.strips[0].frames;
    CHECK(frames[0].placed_by_pitch);
    CHECK(frames[4].placed_by_pitch);
    // The advance jitters by some tenths of a millimetre: a blank frame is no better placed than that.
    CHECK(corner_error_mm(frames[4].corners, sheet.frames[4].corners, plan) < 1.0);
    CHECK(frames[4].confidence < 0.9);
    CHECK(has_finding(layout, "blank-frame"));
    CHECK(has_finding(layout, "fogged-frame"));
}

TEST_CASE("scenes that hide an edge: black along a side, bars beside an edge, a patch chart, dense all over") {
    StripPlan strip = strip_of(6, 21);
    const Scene scenes[] = {Scene::black_side, Scene::shapes, Scene::chart, Scene::high_key, Scene::black_side, Scene::sky};
    for (std::size_t i = 0; i < 6; ++i) strip.frames[i].scene = scenes[i];
    strip.smears = 15;
    strip.specks = 40;
    SheetPlan plan = sheet_with({strip});
    plan.blur_px = 1.0;
    const DrawnSheet sheet = draw(plan);
    check_all(found_on(sheet), sheet, plan, 0.15);
}

TEST_CASE("gaps that jitter down to half a millimetre") {
    StripPlan strip = strip_of(5, 31);
    const double gaps[] = {2, 0.6, 2.4, 1.0, 1.7};
    for (std::size_t i = 0; i < 5; ++i) strip.frames[i].gap_before = gaps[i];
    SheetPlan plan = sheet_with({strip});
    const DrawnSheet sheet = draw(plan);
    check_all(found_on(sheet), sheet, plan);
}

TEST_CASE("short strips, and film left over that is no frame") {
    StripPlan one = strip_of(1, 41), two = strip_of(2, 42);
    one.tail = 20;  // 18 mm after the gap: half a frame
    two.centre_x = 60;
    SheetPlan plan = sheet_with({one, two});
    plan.holder = GENERATE(true, false);
    const DrawnSheet sheet = draw(plan);
    check_all(found_on(sheet), sheet, plan);
}

TEST_CASE("two strips in one row are read from left to right") {
    StripPlan left = strip_of(2, 51), right = strip_of(3, 52);
    left.centre_x = 45;
    right.centre_x = 165;
    SheetPlan plan = sheet_with({left, right});
    plan.strips[0].centre_y = 31;
    plan.strips[1].centre_y = 29;
    plan.holder = true;
    const DrawnSheet sheet = draw(plan);
    check_all(found_on(sheet), sheet, plan);
}

TEST_CASE("strips that touch each other on the glass") {
    SheetPlan plan = sheet_with({strip_of(3, 61), strip_of(3, 62)});
    plan.strips[1].centre_y = plan.strips[0].centre_y + 35.0;
    const DrawnSheet sheet = draw(plan);
    check_all(found_on(sheet), sheet, plan);
}

TEST_CASE("a strip without any picture is laid out by the advance, with low confidence") {
    StripPlan strip = strip_of(4, 71);
    for (FramePlan& f : strip.frames) f.kind = FrameKind::blank;
    SheetPlan plan = sheet_with({strip});
    const SheetLayout layout = found_on(draw(plan));
    REQUIRE(layout.strips.size() == 1);
    REQUIRE(layout.strips[0].frames.size() == 4);
    for (const FrameBox& f : layout.strips[0].frames) {
        CHECK(f.kind == FrameKind::blank);
        CHECK(f.confidence < 0.2);
    }
    CHECK(has_finding(layout, "strip-uncertain"));
}

TEST_CASE("the same film gives the same millimetres whatever the scanner's resolution") {
    SheetPlan plan = sheet_with({strip_of(3, 81)});
    plan.width_mm = 140;
    plan.strips[0].centre_x = 66;
    plan.strips[0].angle_deg = 0.5;
    plan.px_per_mm = GENERATE(5.9, 9.0, 14.0);  // 150 to 350 dpi
    CAPTURE(plan.px_per_mm);
    const DrawnSheet sheet = draw(plan);
    check_all(found_on(sheet), sheet, plan, plan.px_per_mm < 6 ? 0.12 : 0.06);
}

TEST_CASE("the overview's factor scales the answer and nothing else") {
    SheetPlan plan = sheet_with({strip_of(2, 82)});
    plan.width_mm = 110;
    plan.strips[0].centre_x = 55;
    DrawnSheet sheet = draw(plan);
    const SheetLayout one = found_on(sheet);
    sheet.overview.factor = 4;
    sheet.overview.scan_resolution = PixelsPerMm(4 * plan.px_per_mm);
    const SheetLayout four = found_on(sheet);
    const auto a = all_frames(one), b = all_frames(four);
    REQUIRE(a.size() == b.size());
    for (std::size_t i = 0; i < a.size(); ++i) {
        for (int k = 0; k < 4; ++k) CHECK(distance(a[i]->corners[k] * 4, b[i]->corners[k]) < 1e-6);
    }
    CHECK(four.scale.value() == Approx(4 * plan.px_per_mm));
}

TEST_CASE("exposure of the scan does not move the frames, and the finder repeats itself") {
    SheetPlan plan = sheet_with({strip_of(2, 83)});
    plan.width_mm = 110;
    plan.strips[0].centre_x = 55;
    DrawnSheet sheet = draw(plan);
    const SheetLayout bright = found_on(sheet);
    CHECK(found_on(sheet).strips == bright.strips);
    for (std::int64_t y = 0; y < sheet.overview.pixels.height(); ++y) {
        for (std::int64_t x = 0; x < sheet.overview.pixels.width(); ++x) {
            LinearRgbi& p = sheet.overview.pixels(x, y);
            p = {p.r * 0.4F, p.g * 0.4F, p.b * 0.4F, 0};
        }
    }
    const SheetLayout dim = found_on(sheet);
    const auto a = all_frames(bright), b = all_frames(dim);
    REQUIRE(a.size() == b.size());
    for (std::size_t i = 0; i < a.size(); ++i) CHECK(corner_error_mm(a[i]->corners, b[i]->corners, plan) < 0.005);
}

TEST_CASE("without a stated resolution the film itself gives the scale") {
    SheetPlan plan = sheet_with({strip_of(4, 91)});
    plan.resolution_stated = false;
    plan.width_mm = 175;
    plan.strips[0].centre_x = 86;
    SECTION("from perforations") {
        const DrawnSheet sheet = draw(plan);
        const SheetLayout layout = found_on(sheet);
        CHECK(layout.scale_origin == ScaleOrigin::perforations);
        CHECK(layout.scale.value() == Approx(plan.px_per_mm).epsilon(0.003));  // long and short pitch differ by 0.2 %
        CHECK(has_finding(layout, "scale-from-perforations"));
        check_all(layout, sheet, plan);
    }
    SECTION("from the film's width") {
        plan.strips[0].perforated = false;
        const DrawnSheet sheet = draw(plan);
        const SheetLayout layout = found_on(sheet);
        CHECK(layout.scale_origin == ScaleOrigin::film_width);
        CHECK(layout.scale.value() == Approx(plan.px_per_mm).epsilon(0.01));  // a tenth of a millimetre at each edge
        check_all(layout, sheet, plan);
    }
    SECTION("from the frames, where a holder hides everything else") {
        plan.holder = true;
        plan.opening_height = 25.2;
        const DrawnSheet sheet = draw(plan);
        const SheetLayout layout = found_on(sheet);
        CHECK(layout.scale.value() == Approx(plan.px_per_mm).epsilon(0.02));
        check_all(layout, sheet, plan, 0.2);
    }
}

TEST_CASE("a stated resolution that contradicts the film is reported and not used") {
    SheetPlan plan = sheet_with({strip_of(4, 92)});
    plan.width_mm = 175;
    plan.strips[0].centre_x = 86;
    plan.stated_error = GENERATE(0.5, 1.08, 1.5);
    CAPTURE(plan.stated_error);
    const DrawnSheet sheet = draw(plan);
    const SheetLayout layout = found_on(sheet);
    CHECK(has_finding(layout, "resolution-contradicts-film"));
    CHECK(layout.scale.value() == Approx(plan.px_per_mm).epsilon(0.003));
    check_all(layout, sheet, plan);
}

TEST_CASE("random sheets: every picture found, none added, corners close") {
    std::vector<double> errors;
    int sure = 0, sure_and_wrong = 0;
    for (std::uint64_t seed = 501; seed <= 508; ++seed) {
        const SheetPlan plan = random_sheet(seed, 6.5);
        const DrawnSheet sheet = draw(plan);
        const SheetLayout layout = found_on(sheet);
        const auto found = all_frames(layout);
        std::vector<bool> used(found.size(), false);
        for (const TrueFrame& t : sheet.frames) {
            CAPTURE(seed, t.strip, static_cast<int>(t.scene));
            std::size_t nearest = found.size();
            for (std::size_t i = 0; i < found.size(); ++i) {
                const double off = distance(centre(found[i]->corners), centre(t.corners)) / (plan.px_per_mm * plan.factor);
                if (!used[i] && off < 12) nearest = i;
            }
            if (t.kind == FrameKind::blank && nearest == found.size()) continue;  // a strip's end may have no room for one
            REQUIRE(nearest < found.size());
            used[nearest] = true;
            if (t.kind != FrameKind::picture) continue;
            const double error = corner_error_mm(found[nearest]->corners, t.corners, plan);
            errors.push_back(error);
            sure += found[nearest]->confidence >= 0.95 ? 1 : 0;
            sure_and_wrong += found[nearest]->confidence >= 0.95 && error > 0.25 ? 1 : 0;
        }
        CAPTURE(seed);
        CHECK(std::count(used.begin(), used.end(), false) == 0);
    }
    std::sort(errors.begin(), errors.end());
    REQUIRE(errors.size() > 40);
    CHECK(errors[errors.size() * 95 / 100] < 0.12);
    CHECK(sure > 0);
    CHECK(20 * sure_and_wrong <= sure);
}

TEST_CASE("a sheet without film gives an empty layout and says so") {
    for (const float light : {0.0F, 0.0005F, 0.9F, 1.0F}) {
        CAPTURE(light);
        const auto layout = find_frames(even_sheet(900, 500, light), {});
        REQUIRE(layout.has_value());
        CHECK(layout->strips.empty());
        CHECK(has_finding(*layout, "no-film-found"));
    }
    SheetPlan empty;
    const auto glass = find_frames(draw(empty).overview, {});
    REQUIRE(glass.has_value());
    CHECK(glass->strips.empty());
}

TEST_CASE("noise, bad numbers and an empty opening are not film") {
    Overview noise = even_sheet(800, 400, 0);
    std::uint32_t state = 7;
    for (std::int64_t y = 0; y < 400; ++y) {
        for (std::int64_t x = 0; x < 800; ++x) {
            state = state * 1664525U + 1013904223U;
            const float v = static_cast<float>(state >> 8) * 0x1.0p-24F;
            noise.pixels(x, y) = {v, v * 0.8F, v * 0.9F, 0};
        }
    }
    const auto a = find_frames(noise, {});
    REQUIRE(a.has_value());
    CHECK(all_frames(*a).empty());

    const auto b = find_frames(even_sheet(800, 400, std::numeric_limits<float>::quiet_NaN()), {});
    REQUIRE(b.has_value());
    CHECK(b->strips.empty());

    Overview opening = even_sheet(1500, 400, 0.001F);
    for (std::int64_t y = 100; y < 255; ++y) {
        for (std::int64_t x = 60; x < 1440; ++x) opening.pixels(x, y) = {0.9F, 0.9F, 0.9F, 0};
    }
    const auto c = find_frames(opening, {});
    REQUIRE(c.has_value());
    CHECK(c->strips.empty());
}

TEST_CASE("bad pixels in a good sheet change nothing much") {
    SheetPlan plan = sheet_with({strip_of(2, 93)});
    plan.width_mm = 110;
    plan.strips[0].centre_x = 55;
    DrawnSheet sheet = draw(plan);
    for (std::int64_t i = 0; i < 400; ++i) {
        const std::int64_t x = (i * 7919) % sheet.overview.pixels.width(), y = (i * 104729) % sheet.overview.pixels.height();
        const float bad = i % 2 == 0 ? std::numeric_limits<float>::quiet_NaN() : std::numeric_limits<float>::infinity();
        sheet.overview.pixels(x, y) = {bad, bad, -1.0F, 0};
    }
    check_all(found_on(sheet), sheet, plan);
}

TEST_CASE("overviews too small for a frame are refused") {
    for (const std::int64_t side : {0, 1, 8, 100}) {
        const auto layout = find_frames(even_sheet(side, side, 0.9F), {});
        REQUIRE_FALSE(layout.has_value());
        CHECK(layout.error().code == ErrorCode::malformed);
    }
}

TEST_CASE("options out of range are refused") {
    FindOptions options;
    CHECK(validate(options).has_value());
    options.max_tilt_deg = 16;
    CHECK_FALSE(validate(options).has_value());
    const auto layout = find_frames(even_sheet(900, 500, 0.9F), options);
    REQUIRE_FALSE(layout.has_value());
    CHECK(layout.error().code == ErrorCode::usage);
    options = {};
    options.max_tilt_deg = std::numeric_limits<double>::quiet_NaN();
    CHECK_FALSE(validate(options).has_value());
    options = {};
    options.max_frames_per_strip = 0;
    CHECK_FALSE(validate(options).has_value());
}
