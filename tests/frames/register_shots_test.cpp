// SPDX-License-Identifier: GPL-3.0-or-later
// Overlapping shots of an invented strip: where each lies must come out as it was photographed.
#include "basefog/frames/register_shots.h"

#include "support/shot_strip.h"
#include "support/synthetic_random.h"

#include <catch2/catch.hpp>
#include <opencv2/core.hpp>

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdint>
#include <vector>

using namespace basefog;

namespace {

const synthetic::Sheet& film() {
    static const synthetic::Sheet sheet = synthetic::strip_to_photograph();
    return sheet;
}

/// The shot with a camera's noise, divided by a light frame unless told otherwise.
Overview seen(const synthetic::StripShotSpec& spec, const cv::Mat& light_through, bool divided = true) {
    const synthetic::CopyCamera& c = spec.camera;
    const cv::Mat light = synthetic::seen_light(c, spec.shot, light_through, synthetic::kShotFilmPxPerMm);
    Overview overview;
    overview.scan_width = c.width, overview.scan_height = c.height, overview.light_divided = divided;
    overview.pixels = Image<LinearRgbi>(c.width, c.height);
    const double half = 0.5 * std::hypot(c.width, c.height);
    for (int y = 0; y < c.height; ++y)
        for (int x = 0; x < c.width; ++x) {
            const cv::Vec3f& p = light.at<cv::Vec3f>(y, x);
            const double u = (x + 0.5 - 0.5 * c.width) / half, v = (y + 0.5 - 0.5 * c.height) / half, fall = 1 - c.falloff * (u * u + v * v);
            const double n = 0.003 * synthetic::normal_from(synthetic::mix(spec.shot.seed, static_cast<std::uint64_t>(y), static_cast<std::uint64_t>(x)));
            const auto value = [&](int k) {
                const double t = static_cast<double>(p[k]) / (divided ? fall * c.lamp[static_cast<std::size_t>(k)] : 1);
                return static_cast<float>(t + n * std::sqrt(std::max(0.0, t)));
            };
            overview.pixels(x, y) = {value(0), value(1), value(2), 0};
        }
    return overview;
}

struct Registered {
    std::vector<synthetic::StripShotSpec> shots;
    std::vector<ShotMatch> matches;
    JoinedShots joined;
};
Registered registered(std::vector<synthetic::StripShotSpec> shots, const cv::Mat& light, bool divided = true) {
    Registered out{std::move(shots), {}, {}};
    std::vector<ShotHoles> holes;
    ShotLook last;
    for (const synthetic::StripShotSpec& spec : out.shots) {
        ShotLook look = look_at_shot(seen(spec, light, divided));
        holes.push_back(look.holes);
        if (holes.size() > 1) out.matches.push_back(match_shots(last, look));
        last = std::move(look);
    }
    out.joined = join_shots(holes, out.matches, out.shots[0].camera.width, out.shots[0].camera.height, divided);
    return out;
}

/// How far any frame's corner on any shot lies, on the joined picture, from where one turn, shift and scale of the true film puts it: millimetres.
double worst_off_mm(const Registered& r) {
    const synthetic::CopyCamera& c = r.shots[0].camera;
    const LensView view(r.joined.lens, c.width, c.height);
    std::vector<PointPx> truth, there;
    for (const auto& frame : film().strips[0].frames)
        for (const auto& corner : frame.corners_px) {
            const PointPx mm{corner[0] / synthetic::kShotFilmPxPerMm, corner[1] / synthetic::kShotFilmPxPerMm};
            for (const StripJoin::Shot& shot : r.joined.join.shots) {
                const auto at = synthetic::shown_at(r.shots[static_cast<std::size_t>(shot.file)], mm.x, mm.y);
                if (at[0] < 0 || at[1] < 0 || at[0] > c.width || at[1] > c.height) continue;
                truth.push_back(mm);
                there.push_back(shot.to_strip.at(view.perfect({at[0], at[1]})));
            }
        }
    REQUIRE(truth.size() > 12);  // some on two shots
    PointPx from, to;
    const double n = static_cast<double>(truth.size());
    for (std::size_t i = 0; i < truth.size(); ++i) from = from + there[i] * (1 / n), to = to + truth[i] * (1 / n);
    double a = 0, b = 0, s = 0;
    for (std::size_t i = 0; i < truth.size(); ++i) {
        const PointPx p = there[i] - from, q = truth[i] - to;
        a += p.x * q.x + p.y * q.y, b += p.x * q.y - p.y * q.x, s += p.x * p.x + p.y * p.y;
    }
    const Similarity best{a / s, b / s, {}};
    double worst = 0;
    for (std::size_t i = 0; i < truth.size(); ++i) worst = std::max(worst, distance(best.at(there[i] - from), truth[i] - to));
    return worst;
}

/// How far the told falloff is off, in density, anywhere within a frame's height of the film's middle; light in the shot's middle counts as right.
double falloff_off(const Registered& r) {
    const synthetic::CopyCamera& c = r.shots[0].camera;
    const double half = 0.5 * std::hypot(c.width, c.height);
    double worst = 0;
    for (double x = 5; x < c.width; x += 20)
        for (double y = 0.5 * c.height - 12 * c.px_per_mm; y < 0.5 * c.height + 12 * c.px_per_mm; y += 20) {
            const double u = (x - 0.5 * c.width) / half, v = (y - 0.5 * c.height) / half, truth = 1 - c.falloff * (u * u + v * v);
            for (const double told : r.joined.join.falloff->at({x, y}, c.width, c.height)) worst = std::max(worst, std::abs(std::log10(told / truth)));
        }
    return worst;
}

constexpr double kTrueMm = 0.03;  // a third of what a joined strip must hold, as frames are still to be found on it

}  // namespace

TEST_CASE("overlapping shots lie where they were taken") {
    SECTION("with perforations: place, lens and scale") {
        const Registered r = registered(synthetic::shots_along(3, 36), film().light);
        for (const ShotMatch& m : r.matches) CHECK(m.found);
        CAPTURE(r.joined.lens.k1, r.joined.lens.k2, r.joined.holes);
        CHECK(r.joined.holes > 45);
        CHECK(worst_off_mm(r) < kTrueMm);
        CHECK(r.joined.lens_told);
        CHECK(r.joined.lens.k1 == Approx(-0.02).margin(0.003));
        CHECK(r.joined.in_order);
        CHECK(r.joined.direction == StripDirection::horizontal);
        REQUIRE(r.joined.join.about);
        CHECK(r.joined.join.about->value() == Approx(r.shots[0].camera.px_per_mm).epsilon(0.003));
        for (const JoinedShots::Overlap& o : r.joined.overlaps) {
            CHECK(o.turned_deg == Approx(0.5).margin(0.02));
            CHECK(o.scale == Approx(1 / 1.003).margin(0.0003));
            CHECK(o.off_px < 0.3);
            for (int c = 0; c < 3; ++c) CHECK(o.level[c] == Approx(1).margin(0.003));
        }
    }
    SECTION("perforations under a holder: by the pictures alone") {
        const Registered r = registered(synthetic::shots_along(3, 36), synthetic::under_holder(film().light, 25));
        for (const ShotMatch& m : r.matches) CHECK(m.found);
        CHECK(r.joined.holes == 0);
        CHECK_FALSE(r.joined.join.about);
        CHECK(worst_off_mm(r) < 0.06);
    }
    SECTION("from right to left, and one exposed more") {
        std::vector<synthetic::StripShotSpec> shots = synthetic::shots_along(2, 40);
        std::swap(shots[0], shots[1]);
        shots[1].shot.exposure = 1.1;
        const Registered r = registered(shots, film().light);
        REQUIRE(r.matches.at(0).found);
        CHECK(r.joined.join.shots.at(0).file == 1);
        CHECK(worst_off_mm(r) < kTrueMm);
        for (int c = 0; c < 3; ++c) CHECK(r.matches[0].level[c] == Approx(1.1).epsilon(0.003));
        // Divided by its level each shows the same.
        const StripJoin& join = r.joined.join;
        CHECK(join.shots[0].level.g / join.shots[1].level.g == Approx(1.1).epsilon(0.003));
    }
}

TEST_CASE("without a light frame the shots themselves tell how light falls off") {
    SECTION("by bare light in the perforations") {
        std::vector<synthetic::StripShotSpec> shots = synthetic::shots_along(3, 36);
        shots[1].shot.exposure = 1.1;
        const Registered r = registered(shots, film().light, false);
        REQUIRE(r.joined.join.falloff);
        CHECK(falloff_off(r) < 0.005);
        CHECK(r.joined.falloff_std < 0.005);
        const auto level = [&](std::size_t i) { return r.joined.join.shots[i].level.g; };
        CHECK(level(1) / level(0) == Approx(1.1).epsilon(0.005));
        CHECK(level(2) / level(0) == Approx(1).epsilon(0.005));
        CHECK(worst_off_mm(r) < kTrueMm);
    }
    SECTION("by film that two of them show, where a holder hides the perforations: less surely") {
        const Registered r = registered(synthetic::shots_along(3, 36), synthetic::under_holder(film().light, 25), false);
        REQUIRE(r.joined.join.falloff);
        CHECK(falloff_off(r) < 0.02);
        CHECK(falloff_off(r) < 4 * r.joined.falloff_std);
    }
    SECTION("what is at the white limit says nothing") {
        std::vector<synthetic::StripShotSpec> shots = synthetic::shots_along(2, 36);
        for (synthetic::StripShotSpec& shot : shots) shot.camera.lamp = {1.4, 1.4, 1.4};
        shots[1].shot.exposure = 1.1;
        Registered r = registered(shots, film().light, false);
        std::vector<ShotHoles> holes;
        for (const synthetic::StripShotSpec& shot : shots) {
            Overview bright = seen(shot, film().light, false);
            for (std::int64_t y = 0; y < bright.pixels.height(); ++y)
                for (std::int64_t x = 0; x < bright.pixels.width(); ++x)
                    for (float* v : {&bright.pixels(x, y).r, &bright.pixels(x, y).g, &bright.pixels(x, y).b}) *v = std::min(*v, 1.0F);
            holes.push_back(look_at_shot(std::move(bright)).holes);
            CHECK_FALSE(holes.back().at.empty());
            CHECK(std::all_of(holes.back().light.begin(), holes.back().light.end(), [](const Rgb<double>& l) { return l.g == 0; }));
        }
        // And without places to go by there is no falloff, but what the overlap says of the level stays.
        r.matches[0].places.clear();
        const JoinedShots joined = join_shots(holes, r.matches, shots[0].camera.width, shots[0].camera.height, false);
        CHECK_FALSE(joined.join.falloff);
        CHECK(joined.join.shots[1].level.g / joined.join.shots[0].level.g == Approx(r.matches[0].level.g));
        // With a few holes of one shot the level is still the overlap's.
        holes[0].light.assign(holes[0].at.size(), Rgb<double>{0.5, 0.5, 0.5});
        const JoinedShots one = join_shots(holes, r.matches, shots[0].camera.width, shots[0].camera.height, false);
        REQUIRE(one.join.falloff);
        CHECK(one.join.shots[1].level.g / one.join.shots[0].level.g == Approx(r.matches[0].level.g).epsilon(0.02));
    }
    SECTION("a light frame that was divided out leaves none") { CHECK_FALSE(registered(synthetic::shots_along(2, 36), film().light).joined.join.falloff); }
}

TEST_CASE("shots that share nothing, or too little, are not taken for neighbours") {
    const std::vector<synthetic::StripShotSpec> shots = synthetic::shots_along(3, 36);
    const ShotLook first = look_at_shot(seen(shots[0], film().light)), third = look_at_shot(seen(shots[2], film().light));
    SECTION("two ends of the strip") { CHECK_FALSE(match_shots(first, third).found); }
    SECTION("the same seen the other way up is another film") {
        cv::Mat turned;
        cv::flip(film().light, turned, -1);
        CHECK_FALSE(match_shots(first, look_at_shot(seen(shots[1], turned))).found);
    }
    SECTION("an even overlap: neither picture nor print, and no perforations") {
        const cv::Mat even(film().light.size(), CV_32FC3, cv::Scalar(0.5, 0.25, 0.1));
        CHECK_FALSE(match_shots(look_at_shot(seen(shots[0], even)), look_at_shot(seen(shots[1], even))).found);
    }
}
