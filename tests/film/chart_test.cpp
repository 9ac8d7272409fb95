// SPDX-License-Identifier: GPL-3.0-or-later
// Colour charts: found however they lie, read, and what they teach. Film by spectra (random_rolls.h), not by the library's own curves.
#include "film/chart.h"
#include "basefog/film/fit_stock.h"
#include "basefog/invert/colour.h"
#include "basefog/invert/inverter.h"
#include "film/random_rolls.h"

#include <opencv2/imgproc.hpp>

#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>

using namespace basefog;
using namespace basefog::test;

namespace {

using synthetic::SceneKind;

constexpr int kDrawn = 640;  // pixels across a chart as drawn, 100 to a patch's pitch

/// A chart of 6.4 by 4.4 pitches laid with its corners at `corners` (spots, from its own top left clockwise) over a scene, photographed.
FrameSamples shoot_chart(const SeenStock& film, const std::array<cv::Point2f, 4>& corners, double stops, synthetic::Random& random,
                         SceneKind behind = SceneKind::meadow) {
    cv::Mat chart = synthetic::render_scene({SceneKind::chart, 1, 0}, kDrawn);
    const auto w = static_cast<float>(chart.cols), h = static_cast<float>(chart.rows);
    constexpr int kFiner = 4;
    std::array<cv::Point2f, 4> to = corners;
    for (auto& p : to) p *= kFiner;
    const std::array<cv::Point2f, 4> from{cv::Point2f{0, 0}, {w, 0}, {w, h}, {0, h}};
    cv::Mat picture;
    cv::resize(synthetic::render_scene({behind, 2, 0}, kSpotsAcross), picture, {kSpotsAcross * kFiner, kSpotsDown * kFiner}, 0, 0, cv::INTER_LINEAR);
    cv::warpPerspective(chart, picture, cv::getPerspectiveTransform(from.data(), to.data()), picture.size(), cv::INTER_LINEAR, cv::BORDER_TRANSPARENT);
    cv::GaussianBlur(picture, picture, {}, 2.0);  // half a spot: lens, film and scanner
    cv::resize(picture, picture, {kSpotsAcross, kSpotsDown}, 0, 0, cv::INTER_AREA);
    FrameSamples frame = shoot(film, {{SceneKind::grey, 1, 0}, 0, {}}, random);
    frame.note.use = FrameUse::colour_chart;
    for (int y = 0; y < kSpotsDown; ++y)
        for (int x = 0; x < kSpotsAcross; ++x) {
            const float* p = picture.ptr<float>(y) + 3 * x;
            const auto d = film.density({static_cast<double>(p[0]), static_cast<double>(p[1]), static_cast<double>(p[2])}, stops);
            frame.above_base(x, y) = {static_cast<float>(d[0] + 0.004 * random.normal()), static_cast<float>(d[1] + 0.004 * random.normal()),
                                      static_cast<float>(d[2] + 0.004 * random.normal()), 0};
        }
    return frame;
}

/// Scene light of a drawn patch.
std::array<double, 3> drawn_light(std::size_t patch) {
    const cv::Mat chart = synthetic::render_scene({SceneKind::chart, 1, 0}, kDrawn);
    const auto x = static_cast<int>(100 * (0.7 + static_cast<double>(patch % 6))), y = static_cast<int>(100 * (0.7 + static_cast<double>(patch / 6)));
    const float* p = chart.ptr<float>(y) + 3 * x;
    return {static_cast<double>(p[0]), static_cast<double>(p[1]), static_cast<double>(p[2])};
}

const std::array<std::array<cv::Point2f, 4>, 7> kPlaces{{
    {{{0, 0}, {180, 0}, {180, 120}, {0, 120}}},     // fills the frame
    {{{40, 30}, {130, 34}, {126, 96}, {38, 92}}},   // half of it, held a little askew
    {{{130, 94}, {38, 98}, {42, 34}, {132, 36}}},   // upside down
    {{{118, 8}, {120, 112}, {48, 110}, {50, 6}}},   // on its side
    {{{52, 112}, {46, 10}, {116, 8}, {120, 110}}},  // and on the other
    {{{60, 40}, {160, 20}, {165, 92}, {64, 100}}},  // seen at a slant
    {{{70, 25}, {150, 62}, {120, 115}, {42, 80}}},  // turned by 25 degrees
}};

Lab lab_of(const std::array<double, 3>& rgb) {
    return lab_from_linear_srgb({static_cast<float>(rgb[0]), static_cast<float>(rgb[1]), static_cast<float>(rgb[2])});
}

struct Colours {
    double mean = 0, grey_chroma = 0;
};
/// The patches' colours through the model, exposures brought level, against the light that was drawn. `greys_set`: red and blue too.
Colours judge_chart(const FilmModel& model, const SeenStock& film, double stops, bool greys_set = false) {
    Inverter inverter(model, {Density(0), Density(0), Density(0)}, LogExposure(0), {});
    std::array<std::array<double, 3>, 24> seen{};
    std::array<double, 3> level{};
    for (std::size_t i = 0; i < 24; ++i) {
        const auto d = film.density(drawn_light(i), stops);
        const SceneRgb s = inverter.scene({static_cast<float>(d[0]), static_cast<float>(d[1]), static_cast<float>(d[2]), 0});
        seen[i] = {static_cast<double>(s.r), static_cast<double>(s.g), static_cast<double>(s.b)};
        for (std::size_t c = 0; c < 3 && i >= 19 && i <= 22; ++c) level[c] += std::log(drawn_light(i)[greys_set ? c : 1] / seen[i][greys_set ? c : 1]) / 4;
    }
    Colours out;
    for (std::size_t i = 0; i < 24; ++i) {
        for (std::size_t c = 0; c < 3; ++c) seen[i][c] *= std::exp(level[c]);
        const Lab found = lab_of(seen[i]), truth = lab_of(drawn_light(i));
        out.mean += ciede2000(found, truth) / 24;
        if (i >= 18) out.grey_chroma += std::hypot(found.a, found.b) / 6;
    }
    return out;
}

}  // namespace

TEST_CASE("the chart's light is as published") {
    const auto& light = film::chart_light();
    // Nominal visual densities of the greys as printed on the chart itself (see [ChartValues2016]), two decimals.
    constexpr std::array<double, 6> kDensity{0.05, 0.23, 0.44, 0.70, 1.05, 1.50};
    for (std::size_t i = 0; i < 6; ++i) {
        const auto& l = light[film::kFirstGrey + i];
        CHECK(-std::log10(0.2126 * l[0] + 0.7152 * l[1] + 0.0722 * l[2]) == Approx(kDensity[i]).margin(0.025));
    }
    // The rounded 8-bit values that are common practice (from memory) agree as far as their edition does; cyan lies outside sRGB.
    for (std::size_t i = 0; i < 24; ++i) {
        CAPTURE(i);
        CHECK(ciede2000(lab_of(light[i]), lab_of(drawn_light(i))) < (i == 17 ? 6 : 4));
    }
}

TEST_CASE("a chart is found wherever it lies") {
    for (const std::uint64_t seed : {3U, 8U}) {
        const SeenStock film(seed, 5500);
        for (std::size_t p = 0; p < kPlaces.size(); ++p) {
            CAPTURE(seed, p);
            synthetic::Random random(seed * 100 + p);
            const FrameSamples frame = shoot_chart(film, kPlaces[p], 1.0, random);
            const auto chart = film::read_chart(frame);
            REQUIRE(chart.has_value());
            for (std::size_t i = 0; i < 24; ++i) {
                REQUIRE(chart->density[i].has_value());
                const auto truth = film.density(drawn_light(i), 1.0);
                for (std::size_t c = 0; c < 3; ++c) CHECK((*chart->density[i])[c] == Approx(truth[c]).margin(0.012));  // noise .004, and what blur leaves
            }
        }
    }
}

TEST_CASE("dust on some patches does not matter") {
    const SeenStock film(4, 5500);
    synthetic::Random random(4);
    FrameSamples frame = shoot_chart(film, kPlaces[1], 1.0, random);
    for (int k = 0; k < 40; ++k) {
        const int x = 40 + random.below(90), y = 32 + random.below(60);
        for (int dy = 0; dy < 3; ++dy)
            for (int dx = 0; dx < 2; ++dx) frame.usable(x + dx, y + dy) = 0, frame.above_base(x + dx, y + dy).g += 1;
    }
    CHECK(film::read_chart(frame).has_value());
}

TEST_CASE("what is no chart is not read as one") {
    const SeenStock film(5, 5500);
    synthetic::Random random(5);
    for (const SceneKind kind : {SceneKind::hills, SceneKind::crates, SceneKind::houses, SceneKind::blocks, SceneKind::stairs, SceneKind::still_life,
                                 SceneKind::shapes, SceneKind::grey, SceneKind::meadow, SceneKind::snow, SceneKind::wedge})
        for (const std::uint64_t seed : {1U, 2U, 3U}) {
            CAPTURE(synthetic::name(kind), seed);
            CHECK_FALSE(film::read_chart(shoot(film, {{kind, seed, 0}, 0.5, {}}, random)).has_value());
        }
    CHECK_FALSE(film::read_chart(FrameSamples{}).has_value());
}

TEST_CASE("a chart teaches the stock's colour, to the roll it is on and to others of the stock") {
    double with_chart = 0, grey_with = 0, other_roll = 0, without = 0, slope = 0;
    int n = 0;
    for (std::uint64_t seed = 2000; seed < 2003; ++seed, ++n) {
        RollPair pair = draw_pair(seed);
        const auto untaught = fit_stock(pair.rolls, {});
        REQUIRE(untaught.has_value());
        synthetic::Random random(seed);
        pair.rolls[0].frames.push_back(shoot_chart(pair.film, kPlaces[1], 0.2, random));
        const auto taught = fit_stock(pair.rolls, {});
        REQUIRE(taught.has_value());
        CAPTURE(seed, taught->rolls[0].model.basis[0]);
        CHECK(taught->rolls[0].model.basis[0].find("colour chart") != std::string::npos);
        const Colours own = judge_chart(taught->rolls[0].model, pair.film, 0.2);
        with_chart += own.mean, grey_with += own.grey_chroma;
        other_roll += judge_chart(taught->rolls[1].model, pair.film, 0.2).mean;
        without += judge_chart(untaught->rolls[0].model, pair.film, 0.2).mean;
        double common = 0;
        for (std::size_t c = 0; c < 3; ++c) common += std::log(taught->rolls[0].model.slope[static_cast<int>(c)].value / pair.film.slopes()[c]) / 3;
        slope += std::abs(common);
    }
    with_chart /= n, grey_with /= n, other_roll /= n, without /= n, slope /= n;
    CAPTURE(with_chart, grey_with, other_roll, without, slope);
    CHECK(with_chart < 2.5);  // the aims for a named chart
    CHECK(grey_with < 1.5);
    CHECK(other_roll < 3.5);
    CHECK(with_chart < 0.75 * without);
    CHECK(slope < 0.04);
}

TEST_CASE("greys of a chart stay grey when the slope turns out another than assumed, however far light and stock are apart") {
    int crossed = 0;
    for (std::uint64_t seed = 2000; crossed < 2; ++seed) {
        RollPair pair = draw_pair(seed);
        if (!pair.film.random.crossed) continue;  // told as in its own process, it is a fifth steeper than assumed
        ++crossed;
        synthetic::Random random(seed);
        pair.rolls[0].frames.push_back(shoot_chart(pair.film, kPlaces[1], 0.2, random));
        for (RollSamples& roll : pair.rolls) roll.facts.process = "ECN-2", roll.facts.own_process = "ECN-2";
        const auto taught = fit_stock(pair.rolls, {});
        REQUIRE(taught.has_value());
        CAPTURE(seed, taught->rolls[0].model.slope.g.value, pair.film.slopes()[1]);
        CHECK(judge_chart(taught->rolls[0].model, pair.film, 0.2).grey_chroma < 2);
    }
}

TEST_CASE("a frame named a chart that shows none is said so") {
    RollPair pair = draw_pair(2001);
    pair.rolls[0].frames[2].note.use = FrameUse::colour_chart;
    const auto fit = fit_stock(pair.rolls, {});
    REQUIRE(fit.has_value());
    const auto& findings = fit->rolls[0].findings;
    CHECK(std::any_of(findings.begin(), findings.end(), [](const Finding& f) { return f.code == "chart-not-found" && f.where.frame == 2; }));
}

TEST_CASE("what a chart taught holds for later rolls of the stock that have none") {
    double with = 0, without = 0;
    for (std::uint64_t seed = 2004; seed < 2008; ++seed) {
        RollPair pair = draw_pair(seed);
        const auto untaught = fit_stock(std::span(pair.rolls).last(1), {});
        REQUIRE(untaught.has_value());
        CHECK_FALSE(untaught->rolls[0].model.by_chart.has_value());
        synthetic::Random random(seed);
        pair.rolls[0].frames.push_back(shoot_chart(pair.film, kPlaces[1], 0.2, random));
        const auto first = fit_stock(std::span(pair.rolls).first(1), {});
        REQUIRE(first.has_value());
        REQUIRE(first->rolls[0].model.by_chart.has_value());
        pair.rolls[1].facts.earlier_colour = first->rolls[0].model.by_chart;
        const auto later = fit_stock(std::span(pair.rolls).last(1), {});
        REQUIRE(later.has_value());
        const FilmModel& model = later->rolls[0].model;
        CHECK(model.basis[0].find("earlier roll") != std::string::npos);
        CHECK_FALSE(model.by_chart.has_value());  // hearsay: not to be stored again as measured
        CHECK(model.scene_from_layer == first->rolls[0].model.scene_from_layer);
        // Balance is each roll's own affair: colours are judged with the greys set.
        with += judge_chart(model, pair.film, 0.2, true).mean / 4, without += judge_chart(untaught->rolls[0].model, pair.film, 0.2, true).mean / 4;
        pair.rolls[1].facts.earlier_colour->neutral_share[0] = {0.1, 0.8, 0.1};  // no camera film's
        if (seed > 2004) continue;
        const auto refused = fit_stock(std::span(pair.rolls).last(1), {});
        REQUIRE(refused.has_value());
        CHECK(refused->rolls[0].model.scene_from_layer == untaught->rolls[0].model.scene_from_layer);
    }
    CAPTURE(with, without);
    CHECK(with < 0.85 * without);
}
