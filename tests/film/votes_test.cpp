// SPDX-License-Identifier: GPL-3.0-or-later
// What a drawn picture says of the neutral: greys among colours, on layers whose speeds and slopes are known.
#include "film/votes.h"

#include "film/constants.h"
#include "support/synthetic_random.h"

#include <catch2/catch.hpp>

#include <cmath>

using namespace basefog;
using namespace basefog::film;

namespace {

constexpr std::int64_t kAcross = 180, kDown = 120, kTile = 20;
constexpr Pair kSpeed{-0.05, 0.08}, kTilt{0.06, -0.05};

/// Tiles between a tenth and three times mid-grey: some grey, the others of one colour (red - green and blue - green) and a quarter brighter.
LayerPicture draw(double grey_share, const Pair& colour, const Pair& tilt_of_colours) {
    synthetic::Random random(71);
    LayerPicture out;
    out.width = kAcross, out.height = kDown;
    out.exposure.resize(static_cast<std::size_t>(kAcross * kDown));
    out.usable.assign(out.exposure.size(), 1);
    for (std::int64_t y0 = 0; y0 < kDown; y0 += kTile)
        for (std::int64_t x0 = 0; x0 < kAcross; x0 += kTile) {
            const bool grey = random.unit() < grey_share;
            const double height = random.between(0.3, 1.5) + (grey ? 0.0 : 0.1);
            Triple h{kToe + height, kToe + height, kToe + height};
            for (std::size_t k = 0; k < 2; ++k) {
                const std::size_t layer = k == 0 ? 0 : 2;
                h[layer] += kSpeed[k] + kTilt[k] * height;
                if (!grey) h[layer] += colour[k] + tilt_of_colours[k] * height;
            }
            for (std::int64_t y = y0; y < y0 + kTile; ++y)
                for (std::int64_t x = x0; x < x0 + kTile; ++x) out.exposure[static_cast<std::size_t>(y * kAcross + x)] = h;
        }
    return out;
}

/// Known to .03 at the toe.
NeutralLine about(const Pair& speed, const Pair& tilt) { return {speed, tilt, {9e-4, 9e-4}, {1e-4, 1e-4}, {}}; }
double off(const CastVote& vote, std::size_t k) { return vote.cast[k] - (kSpeed[k] + kTilt[k] * vote.height); }

}  // namespace

TEST_CASE("greys tell the neutral among brighter colours, though it is expected somewhat beside") {
    const SmoothPicture picture = smooth(draw(0.5, {0.35, -0.5}, {}));
    for (const double beside : {-0.04, 0.0, 0.04}) {
        CAPTURE(beside);
        const auto vote = vote_neutral(picture, about({kSpeed[0] + beside, kSpeed[1] - beside}, kTilt));
        REQUIRE(vote.has_value());
        for (std::size_t k = 0; k < 2; ++k) CHECK(std::abs(off(*vote, k)) < 0.025);
        const auto all = vote_cast(picture, {kSpeed[0] + kTilt[0] + beside, kSpeed[1] + kTilt[1] - beside});
        REQUIRE(all.has_value());
        CHECK(off(*all, 0) > 0.05);  // colours carry it away
        CHECK_FALSE(all->near.has_value());
    }
}

TEST_CASE("how much of a picture's light is near neutral is told") {
    const auto grey = vote_neutral(smooth(draw(1.0, {}, {})), about(kSpeed, kTilt));
    const auto some = vote_neutral(smooth(draw(0.5, {0.35, -0.5}, {})), about(kSpeed, kTilt));
    const auto few = vote_neutral(smooth(draw(0.1, {0.35, -0.5}, {})), about(kSpeed, kTilt));
    REQUIRE(grey.has_value());
    REQUIRE(some.has_value());
    REQUIRE(few.has_value());
    CHECK(*grey->near > 0.9);
    CHECK(*some->near < 0.5);
    CHECK(*few->near < 0.3 * *some->near);
}

TEST_CASE("a neutral known badly is sought further away") {
    const SmoothPicture picture = smooth(draw(1.0, {}, {}));
    const Pair far{kSpeed[0] + 0.3, kSpeed[1] - 0.4};
    const NeutralLine sure = about(far, kTilt);
    NeutralLine unsure = sure;
    unsure.speed_variance = {0.04, 0.09};
    const auto near = vote_neutral(picture, sure), wide = vote_neutral(picture, unsure);
    REQUIRE(wide.has_value());
    for (std::size_t k = 0; k < 2; ++k) CHECK(std::abs(off(*wide, k)) < 0.1);
    CHECK((!near || *near->near < 0.01 * *wide->near));
}

TEST_CASE("a picture without anything near neutral has no vote") {
    CHECK_FALSE(vote_neutral(smooth(draw(0.0, {0.8, -1.2}, {})), about(kSpeed, kTilt)).has_value());
    CHECK_FALSE(vote_tilt(draw(0.0, {0.8, -1.2}, {}), about(kSpeed, kTilt)).has_value());
}

TEST_CASE("steps between greys tell the slopes, whatever colours do") {
    const LayerPicture picture = draw(0.6, {0.4, -0.5}, {0.3, 0.3});
    const auto near = vote_tilt(picture, about(kSpeed, kTilt)), all = vote_tilt(picture, std::nullopt);
    REQUIRE(near.has_value());
    REQUIRE(all.has_value());
    for (std::size_t k = 0; k < 2; ++k) {
        CHECK(std::abs((*near)[k] - kTilt[k]) < 0.02);
        CHECK(std::abs((*near)[k] - kTilt[k]) < std::abs((*all)[k] - kTilt[k]));
    }
}
