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

/// The shot divided by a light frame, with a camera's noise.
Overview seen(const synthetic::StripShotSpec& spec, const cv::Mat& light_through, bool noise = true) {
    const synthetic::CopyCamera& c = spec.camera;
    const cv::Mat light = synthetic::seen_light(c, spec.shot, light_through, synthetic::kShotFilmPxPerMm);
    Overview overview;
    overview.scan_width = c.width, overview.scan_height = c.height, overview.light_divided = true;
    overview.pixels = Image<LinearRgbi>(c.width, c.height);
    const double half = 0.5 * std::hypot(c.width, c.height);
    for (int y = 0; y < c.height; ++y)
        for (int x = 0; x < c.width; ++x) {
            const cv::Vec3f& p = light.at<cv::Vec3f>(y, x);
            const double u = (x + 0.5 - 0.5 * c.width) / half, v = (y + 0.5 - 0.5 * c.height) / half, fall = 1 - c.falloff * (u * u + v * v);
            const double n =
                noise ? 0.003 * synthetic::normal_from(synthetic::mix(spec.shot.seed, static_cast<std::uint64_t>(y), static_cast<std::uint64_t>(x))) : 0;
            const auto value = [&](int k) {
                const double t = static_cast<double>(p[k]) / fall / c.lamp[static_cast<std::size_t>(k)];
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
Registered registered(std::vector<synthetic::StripShotSpec> shots, const cv::Mat& light) {
    Registered out{std::move(shots), {}, {}};
    std::vector<ShotHoles> holes;
    ShotLook last;
    for (const synthetic::StripShotSpec& spec : out.shots) {
        ShotLook look = look_at_shot(seen(spec, light));
        holes.push_back(look.holes);
        if (holes.size() > 1) out.matches.push_back(match_shots(last, look));
        last = std::move(look);
    }
    out.joined = join_shots(holes, out.matches, out.shots[0].camera.width, out.shots[0].camera.height);
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
