// SPDX-License-Identifier: GPL-3.0-or-later
// Pairs of invented sheets, with and without dust, scratches and backing, same seed: mended, the dirty one should look like the clean one.
#include "basefog/mend/mend.h"

#include "mend/pair.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

using namespace basefog;
using namespace mend_pair;

/// Of the issue: grain within a quarter of its surroundings'.
constexpr double kGrainMargin = 0.25;

TEST_CASE("with infrared the error inside defects falls to a quarter, and nothing else changes") {
    Tally all;
    Grain divided, filled;
    for (std::uint64_t seed = 31; seed <= 33; ++seed) {
        const std::vector<MendedFrame> frames = mended_pair(seed, true, MendMode::safe);
        all.add(frames);
        divided.add(frames, Mended::divided);
        filled.add(frames, Mended::filled);
    }
    INFO("error before " << all.before() << " after " << all.after() << " pixels " << all.inside << " changed outside " << all.changed_outside << " of "
                         << all.outside);
    CHECK(all.inside > 1000);
    CHECK(all.before() > 4 * all.after());
    CHECK(all.outside > 1000000);
    CHECK(all.changed_outside == 0);
    INFO("grain of divided " << divided.ratio() << " over " << divided.ratios.size() << ", of filled " << filled.ratio() << " over " << filled.ratios.size());
    CHECK(divided.ratios.size() > 150);
    CHECK(divided.ratio() == Approx(1).margin(kGrainMargin));
    CHECK(filled.ratios.size() > 150);
    CHECK(filled.ratio() == Approx(1).margin(kGrainMargin));
}

namespace {

/// Even grey film with a round opaque speck in all channels, infrared 1.5 px to the right of the colours.
struct Bench {
    PxRect rect{100, 50, 180, 110};
    Image<LinearRgbi> pixels{80, 60};
    MendFacts facts;

    explicit Bench(std::uint64_t state = 12345) {
        const auto noise = [&] {
            state = state * 6364136223846793005ULL + 1442695040888963407ULL;
            return 1 + 0.02F * (static_cast<float>(state >> 40) / static_cast<float>(1 << 24) - 0.5F);
        };
        const auto pass = [](double x, double y) { return static_cast<float>(1 - 0.9 / (1 + std::exp(2 * (std::hypot(x - 40, y - 30) - 4)))); };
        for (std::int64_t y = 0; y < 60; ++y)
            for (std::int64_t x = 0; x < 80; ++x) {
                const auto px = static_cast<double>(x), py = static_cast<double>(y);
                const float grain = noise(), colour = pass(px, py);
                pixels(x, y) = {0.2F * grain * colour, 0.15F * grain * colour, 0.05F * grain * colour, 0.9F * pass(px - 1.5, py)};
            }
        facts.light.coefficient[3][0] = std::log(0.9);
        facts.light.scan_width = facts.light.scan_height = 1000;
        facts.infrared = InfraredModel{};
        facts.infrared->match.shift_x = 1.5;
        facts.infrared->match.places = 50;
        facts.scale = PixelsPerMm(20);  // a speck of 0.5 mm with its skirt: not too wide to fill
    }
};

std::int64_t changed(const Image<LinearRgbi>& a, const Image<LinearRgbi>& b) {
    std::int64_t n = 0;
    for (std::int64_t y = 0; y < a.height(); ++y)
        for (std::int64_t x = 0; x < a.width(); ++x) n += a(x, y).r != b(x, y).r || a(x, y).g != b(x, y).g || a(x, y).b != b(x, y).b;
    return n;
}

}  // namespace

TEST_CASE("a speck on even film is gone, its level met, and the mask is where pixels changed") {
    Bench bench;
    const Image<LinearRgbi> before = bench.pixels.clone();
    const Mending m = mend(bench.pixels.view(), bench.rect, {}, bench.facts, {});
    REQUIRE_FALSE(m.mask.empty());
    CHECK(m.filled > 20);
    for (std::int64_t y = 0; y < 60; ++y)
        for (std::int64_t x = 0; x < 80; ++x) {
            if (m.mask(x, y) == Mended::untouched) CHECK(bench.pixels(x, y).r == before(x, y).r);
            CHECK(bench.pixels(x, y).ir == before(x, y).ir);
            // The film's own level, give or take its grain of 1 % and what a divided pixel may be off by, 0.025 of density.
            CHECK(bench.pixels(x, y).r == Approx(0.2).epsilon(0.07));
        }
}

TEST_CASE("what is filled has the grain of its surroundings") {
    // White grain, even in a range of 2 %: variance 0.02^2 / 12 of the level's square.
    double sum = 0, squares = 0, n = 0;
    for (std::uint64_t seed = 1; seed <= 24; ++seed) {
        Bench bench(seed * 7919);
        const Mending m = mend(bench.pixels.view(), bench.rect, {}, bench.facts, {});
        REQUIRE_FALSE(m.mask.empty());
        double mean = 0, here = 0;
        for (const bool first : {true, false})
            for (std::int64_t y = 0; y < 60; ++y)
                for (std::int64_t x = 0; x < 80; ++x) {
                    if (m.mask(x, y) != Mended::filled) continue;
                    const double v = static_cast<double>(bench.pixels(x, y).r) / 0.2;
                    if (first) {
                        mean += v;
                        ++here;
                    } else {
                        squares += (v - mean / here) * (v - mean / here);
                    }
                }
        sum += mean;
        n += here;
    }
    CHECK(n > 1000);
    CHECK(sum / n == Approx(1).epsilon(0.01));  // grain's own standard deviation is 0.006
    CHECK(squares / n == Approx(0.02 * 0.02 / 12).epsilon(kGrainMargin));
}

TEST_CASE("the same picture is mended to the same bytes, wherever it lies on the sheet") {
    Bench a, b;
    b.rect = {300, 250, 380, 310};
    (void)mend(a.pixels.view(), a.rect, {}, a.facts, {});
    (void)mend(b.pixels.view(), b.rect, {}, b.facts, {});
    CHECK(changed(a.pixels, b.pixels) == 0);
}

TEST_CASE("nothing is touched when mending is off, on silver, or where there is too little to look at") {
    Bench bench;
    const Image<LinearRgbi> before = bench.pixels.clone();
    CHECK(mend(bench.pixels.view(), bench.rect, {}, bench.facts, {MendMode::off, false}).mask.empty());
    bench.facts.silver = true;
    CHECK(mend(bench.pixels.view(), bench.rect, {}, bench.facts, {MendMode::all, false}).mask.empty());
    bench.facts.silver = false;
    CHECK(mend(bench.pixels.view().part(0, 0, 8, 8), {100, 50, 108, 58}, {}, bench.facts, {}).mask.empty());
    CHECK(changed(bench.pixels, before) == 0);
}

TEST_CASE("without infrared what the map calls dust is filled, and residue only where all is asked for and it is small") {
    Bench bench;
    bench.facts.infrared.reset();
    Image<Defect> map(200, 200, Defect::none);
    for (std::int64_t y = 74; y < 87; ++y)
        for (std::int64_t x = 134; x < 147; ++x) map(x, y) = Defect::dust;
    const auto residue = [&](std::int64_t x0, std::int64_t y0, std::int64_t side) {
        for (std::int64_t y = y0; y < y0 + side; ++y)
            for (std::int64_t x = x0; x < x0 + side; ++x) map(x, y) = Defect::residue;
    };
    residue(108, 58, 3);
    residue(152, 60, 26);  // wider than can be filled
    const Image<LinearRgbi> before = bench.pixels.clone();
    const Mending m = mend(bench.pixels.view(), bench.rect, {map.view(), 1}, bench.facts, {});
    CHECK(m.places == 1);
    CHECK(bench.pixels(9, 9).g == before(9, 9).g);
    CHECK(bench.pixels(10, 10).r == before(10, 10).r);
    CHECK(bench.pixels(40, 30).r == Approx(0.2).epsilon(0.06));
    const Mending all = mend(bench.pixels.view(), bench.rect, {map.view(), 1}, bench.facts, {MendMode::all, false});
    CHECK(all.places == 2);
    CHECK(bench.pixels(9, 9).g != before(9, 9).g);
    CHECK(bench.pixels(65, 23).g == before(65, 23).g);
}

TEST_CASE("hostile pixels are survived") {
    for (const float value : {0.0F, -1.0F, std::numeric_limits<float>::quiet_NaN(), std::numeric_limits<float>::infinity()}) {
        Bench bench;
        for (std::int64_t y = 20; y < 30; ++y)
            for (std::int64_t x = 20; x < 60; ++x) bench.pixels(x, y) = {value, value, value, value};
        const Mending m = mend(bench.pixels.view(), bench.rect, {}, bench.facts, {});
        CHECK(m.divided + m.filled < 80 * 60);
    }
}
