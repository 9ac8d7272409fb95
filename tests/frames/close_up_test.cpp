// SPDX-License-Identifier: GPL-3.0-or-later
// One frame, seen close: cut out of sheets drawn from published dimensions, with the corners known.
#include "basefog/frames/find_frames.h"
#include "frames/drawn_sheet.h"

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <limits>
#include <utility>

using namespace basefog;
using namespace basefog::drawn;

namespace {

/// The part of a drawn sheet about one of its frames, with `margin` mm around it.
struct Shot {
    Overview overview;
    Quad truth{};
    double px_per_mm = 0;
};
Shot shot_of(const SheetPlan& plan, std::size_t frame, double margin) {
    DrawnSheet sheet = draw(plan);
    Shot shot;
    shot.px_per_mm = plan.px_per_mm;
    const Quad corners = sheet.frames[frame].corners;
    const Image<LinearRgbi>& whole = sheet.overview.pixels;
    const PxRect part = intersection(bounds(corners, margin * plan.px_per_mm), {0, 0, whole.width(), whole.height()});
    Image<LinearRgbi> pixels(part.width(), part.height());
    for (std::int64_t y = 0; y < part.height(); ++y) std::copy_n(whole.row(part.y0 + y) + part.x0, part.width(), pixels.row(y));
    shot.overview = std::move(sheet.overview);
    shot.overview.pixels = std::move(pixels);
    shot.overview.scan_width = part.width(), shot.overview.scan_height = part.height();
    shot.overview.scan_resolution.reset();
    for (std::size_t i = 0; i < 4; ++i) shot.truth[i] = corners[i] - PointPx{static_cast<double>(part.x0), static_cast<double>(part.y0)};
    return shot;
}

double worst_mm(const Quad& a, const Quad& b, double px_per_mm) {
    double worst = 0;
    for (std::size_t i = 0; i < 4; ++i) worst = std::max(worst, distance(a[i], b[i]) / px_per_mm);
    return worst;
}

SheetPlan sheet_with(std::vector<FramePlan> frames, double angle, std::uint64_t seed) {
    SheetPlan plan;
    plan.px_per_mm = 28;  // 36 mm on a thousand pixels
    plan.width_mm = 130, plan.height_mm = 46;
    plan.seed = seed;
    StripPlan strip;
    strip.centre_x = 65, strip.centre_y = 23, strip.angle_deg = angle;
    strip.frames = std::move(frames);
    plan.strips.push_back(strip);
    return plan;
}

const FindOptions kCloseUp{.close_up = true};

}  // namespace

TEST_CASE("a close-up's frame is found to a tenth of a millimetre") {
    struct Case {
        Scene scene;
        double stops, angle;
    };
    for (const auto& [scene, stops, angle] : {Case{Scene::textured, 0, 0}, Case{Scene::textured, 0, 1.7}, Case{Scene::textured, 0, -3.2},
                                              Case{Scene::textured, -2, 1.7}, Case{Scene::textured, 2, -3.2}, Case{Scene::sky, 0, -3.2},
                                              Case{Scene::shapes, 0, 0}, Case{Scene::high_key, 0, 1.7}, Case{Scene::black_side, 0, -3.2}}) {
        CAPTURE(static_cast<int>(scene), stops, angle);
        const auto plan = sheet_with({{.seed = 5}, {.scene = scene, .stops = stops, .seed = 6}, {.seed = 7}}, angle, 11);
        const Shot shot = shot_of(plan, 1, 1.6);
        const auto layout = find_frames(shot.overview, kCloseUp);
        REQUIRE(layout);
        REQUIRE(layout->strips.size() == 1);
        REQUIRE(layout->strips[0].frames.size() == 1);
        const FrameBox& frame = layout->strips[0].frames[0];
        const double worst = worst_mm(frame.corners, shot.truth, shot.px_per_mm);
        // A side that is black along the picture shows no edge of its own: there the confidence must say so.
        if (scene != Scene::black_side) CHECK(worst < 0.1);
        if (worst > 0.25) CHECK(frame.confidence < 0.95);
        if (scene == Scene::textured) CHECK(frame.confidence > 0.9);
        CHECK(layout->scale.value() == Approx(shot.px_per_mm).epsilon(worst < 0.25 ? 0.01 : 0.1));
    }
}

TEST_CASE("a close-up with perforations in view, standing, and half a frame") {
    auto plan = sheet_with({{.seed = 5}, {.seed = 6}, {.seed = 7}}, 0.8, 3);
    const Shot wide = shot_of(plan, 1, 4.5);  // perforations, the neighbours' edges
    const auto found = find_frames(wide.overview, kCloseUp);
    REQUIRE(found);
    REQUIRE(found->strips.size() == 1);
    CHECK(worst_mm(found->strips[0].frames[0].corners, wide.truth, wide.px_per_mm) < 0.1);
    // What is called its film ends before the neighbours' pictures, and holds most of the gaps.
    const double film = distance(found->strips[0].corners[0], found->strips[0].corners[1]) / wide.px_per_mm;
    CHECK(film < 36 + 2 * 2.0);
    CHECK(film > 36 + 2 * 1.2);

    std::swap(plan.width_mm, plan.height_mm);
    plan.strips[0].vertical = true;
    plan.strips[0].centre_x = 23, plan.strips[0].centre_y = 65;
    const Shot standing = shot_of(plan, 1, 1.6);
    const auto upright = find_frames(standing.overview, kCloseUp);
    REQUIRE(upright);
    REQUIRE(upright->strips.size() == 1);
    CHECK(upright->strips[0].direction == StripDirection::vertical);
    CHECK(worst_mm(upright->strips[0].frames[0].corners, standing.truth, standing.px_per_mm) < 0.1);

    auto half = sheet_with({{.seed = 5}, {.seed = 6}, {.seed = 7}}, 0.4, 9);
    half.strips[0].frame_width = 18;
    const Shot small = shot_of(half, 1, 1.6);
    const auto told = find_frames(small.overview, {.format = FrameFormat::half, .close_up = true});
    REQUIRE(told);
    REQUIRE(told->strips.size() == 1);
    CHECK(told->strips[0].format == FrameFormat::half);
    CHECK(worst_mm(told->strips[0].frames[0].corners, small.truth, small.px_per_mm) < 0.1);
}

TEST_CASE("where there is no frame, none is found, and what is unlike a gate is doubted") {
    Overview empty;
    empty.pixels = Image<LinearRgbi>(600, 400, LinearRgbi{0.8F, 0.8F, 0.8F, 0});
    empty.scan_width = 600, empty.scan_height = 400;
    const auto none = find_frames(empty, kCloseUp);
    REQUIRE(none);
    CHECK(none->strips.empty());
    CHECK(std::any_of(none->findings.begin(), none->findings.end(), [](const Finding& f) { return f.code == "no-film-found"; }));
    for (std::int64_t y = 0; y < 400; ++y)
        for (std::int64_t x = 0; x < 600; ++x) empty.pixels(x, y).g = std::numeric_limits<float>::quiet_NaN();
    CHECK(find_frames(empty, kCloseUp));
}
