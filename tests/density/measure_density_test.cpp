// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/density/measure_density.h"
#include "density/film_sheet.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;
using namespace film_sheet;

namespace {

/// What the program aims at for a base: the report's own target.
constexpr double kBaseAim = 0.012;

SheetDensity measure(const Drawn& drawn) {
    auto result = measure_density(drawn.overview, drawn.layout, drawn.regions, {});
    REQUIRE(result.has_value());
    return std::move(*result);
}

bool has_finding(const SheetDensity& d, const std::string& code, int strip = -1) {
    return std::any_of(d.findings.begin(), d.findings.end(), [&](const Finding& f) { return f.code == code && f.where.strip == strip; });
}

double worst_base_error(const StripBase& base, const Film& film) {
    double worst = 0;
    for (int c = 0; c < 3; ++c) worst = std::max(worst, std::abs(base.base[c].value.value() - film.base[static_cast<std::size_t>(c)]));
    return worst;
}

}  // namespace

TEST_CASE("a known light is recovered over the film from ends and half-covered perforations") {
    Sheet sheet;
    sheet.strips.resize(3);
    const Drawn drawn = draw(sheet);
    const SheetDensity d = measure(drawn);
    CHECK(d.light.from_bare_light);
    CHECK_FALSE(d.relative);
    double worst = 0;
    for (double x = 0.1; x < 0.95; x += 0.2) {
        for (double y = 0.1; y < 0.95; y += 0.2) {
            const PointPx p{x * d.light.scan_width, y * d.light.scan_height};
            worst = std::max(worst, std::abs(std::log10(d.light.at(p).g / drawn.light[1](p.x, p.y))));
        }
    }
    CHECK(worst < 0.003);  // a quarter of the base aim; the true light is a cosine, not a quadratic
}

TEST_CASE("with light at the ends only, the field does not run wild in between") {
    Sheet sheet;
    sheet.strips.resize(2);
    sheet.slivers = false;
    const Drawn drawn = draw(sheet);
    const SheetDensity d = measure(drawn);
    for (std::size_t i = 0; i < 2; ++i) CHECK(worst_base_error(d.strips[i], sheet.strips[i].film) < kBaseAim);
}

TEST_CASE("flat steps of known transmittance read their published density in the picture") {
    // T and D from the same published table as in the light field's test [ScanMetric2001].
    const double table[][2] = {{0.1, 1.0000}, {0.3, 0.5229}, {0.5, 0.3010}, {0.8, 0.0969}};
    Sheet sheet;
    sheet.strips.resize(1);
    sheet.glare = 0;
    Drawn drawn = draw(sheet);
    const auto y0 = drawn.overview.pixels.height() / 3;
    for (int k = 0; k < 4; ++k) {
        for (std::int64_t y = y0; y < y0 + 40; ++y) {
            for (std::int64_t x = 200 + 100 * k; x < 240 + 100 * k; ++x) {
                const double px = static_cast<double>(x) + 0.5, py = static_cast<double>(y) + 0.5;
                const auto light = [&](int c) { return static_cast<float>(table[k][0] * drawn.light[static_cast<std::size_t>(c)](px, py)); };
                drawn.overview.pixels(x, y) = {light(0), light(1), light(2), 0};
            }
        }
    }
    const SheetDensity d = measure(drawn);
    for (int k = 0; k < 4; ++k) {
        double sum = 0;
        for (std::int64_t y = y0; y < y0 + 40; ++y) {
            for (std::int64_t x = 200 + 100 * k; x < 240 + 100 * k; ++x) sum += d.density(x, y).r / 1600.0;
        }
        CHECK(sum == Approx(table[k][1]).margin(0.003));  // the field's own accuracy
    }
}

TEST_CASE("edge marks and residue and light leaks and a fogged end and dust do not pull the base") {
    Sheet sheet;
    sheet.strips.resize(3);
    Dice dice(5);
    sheet.strips[0].edge_marks = true;
    sheet.strips[0].fogged_end_mm = 25;
    sheet.strips[0].dust = 30;
    sheet.strips[1].film = film_b();
    sheet.strips[1].carbon = smears(35, sheet.frames, dice);
    sheet.strips[2].fogged_end_mm = 45;
    sheet.strips[2].leaks_mm = {62, 84, 101};
    for (const bool infrared : {false, true}) {
        sheet.infrared = infrared;
        const SheetDensity d = measure(draw(sheet));
        for (std::size_t i = 0; i < 3; ++i) CHECK(worst_base_error(d.strips[i], sheet.strips[i].film) < kBaseAim / 3);
    }
}

TEST_CASE("stray light is read off the holder and taken away") {
    Sheet sheet;
    sheet.strips.resize(2);
    sheet.glare = 0.012;  // adds 0.0048 of bare light everywhere, holder included
    const SheetDensity d = measure(draw(sheet));
    CHECK(has_finding(d, "stray-light"));
    // Light up to D 3.0 is left to the holder itself: 0.001 less than added, 0.0004 more than it passes.
    CHECK(d.light.flare.g / 0.90 == Approx(0.0048).margin(0.0008));
    for (std::size_t i = 0; i < 2; ++i) CHECK(worst_base_error(d.strips[i], sheet.strips[i].film) < kBaseAim / 2);
}

TEST_CASE("a veil is not counted as base where infrared or a cleaner strip shows it") {
    Sheet sheet;
    sheet.strips.resize(3);
    sheet.strips[1].veil = 0.03;
    sheet.strips[2].film = film_b();
    for (const bool infrared : {false, true}) {
        sheet.infrared = infrared;
        const SheetDensity d = measure(draw(sheet));
        CHECK(has_finding(d, "base-under-veil", 1));
        CHECK_FALSE(has_finding(d, "base-under-veil", 0));
        CHECK_FALSE(has_finding(d, "base-under-veil", 2));
        for (std::size_t i = 0; i < 3; ++i) CHECK(worst_base_error(d.strips[i], sheet.strips[i].film) < kBaseAim / 3);
    }
}

TEST_CASE("age fog, which no carbon could make, stays in the base") {
    Sheet sheet;
    sheet.strips.resize(2);
    sheet.strips[1].film.base = {0.17, 0.50, 0.95};
    const SheetDensity d = measure(draw(sheet));
    CHECK_FALSE(has_finding(d, "base-under-veil", 1));
    CHECK(worst_base_error(d.strips[1], sheet.strips[1].film) < kBaseAim / 3);
}

TEST_CASE("without bare light densities are relative to the clearest film, and say so") {
    Sheet sheet;
    sheet.strips.resize(2);
    sheet.strips[1].film = film_b();
    sheet.bare_ends = sheet.slivers = false;
    const SheetDensity d = measure(draw(sheet));
    CHECK(d.relative);
    CHECK_FALSE(d.light.from_bare_light);
    CHECK(has_finding(d, "bare-light-missing"));
    for (int c = 0; c < 3; ++c) {
        CHECK(has(d.strips[0].base[c].flags, MeasureFlag::relative));
        CHECK(d.strips[0].base[c].value.value() == Approx(0).margin(kBaseAim / 3));
        const double step = sheet.strips[1].film.base[static_cast<std::size_t>(c)] - sheet.strips[0].film.base[static_cast<std::size_t>(c)];
        CHECK(d.strips[1].base[c].value.value() == Approx(step).margin(kBaseAim / 2));
    }
}

TEST_CASE("noise of the base is stated for the spot asked for") {
    Sheet sheet;
    sheet.strips.resize(1);
    sheet.strips[0].film.grain = 0;
    sheet.dark_noise = 0;
    sheet.noise = 0.01;
    sheet.px_per_mm = 12;
    const Drawn drawn = draw(sheet);
    for (const double spot : {0.1, 0.25}) {
        const auto d = measure_density(drawn.overview, drawn.layout, drawn.regions, {0.02, Millimetres(spot)});
        REQUIRE(d.has_value());
        // Closed form: relative noise s of a pixel is s / ln 10 in density, and falls with the side of the spot in pixels.
        const double expected = 0.01 / std::log(10.0) / (spot * 12);
        CHECK(d->strips[0].noise.g == Approx(expected).epsilon(0.12));
    }
}

TEST_CASE("black-and-white film is told by its base and its pictures") {
    Sheet sheet;
    sheet.strips.resize(3);
    sheet.strips[0].film = film_silver();
    sheet.strips[1].greys_only = true;
    sheet.strips[2].film.base = {0.06, 0.06, 0.07};  // colour pictures on a base without mask
    const SheetDensity d = measure(draw(sheet));
    CHECK(d.strips[0].silver_image);
    CHECK_FALSE(d.strips[1].silver_image);
    CHECK_FALSE(d.strips[2].silver_image);
}

TEST_CASE("more light on the whole scan changes no density") {
    Sheet sheet;
    sheet.strips.resize(1);
    sheet.dark_noise = 0;
    sheet.glare = 0;
    const SheetDensity bright = measure(draw(sheet));
    for (double& l : sheet.light) l *= 0.5;
    const SheetDensity dim = measure(draw(sheet));
    for (int c = 0; c < 3; ++c) CHECK(bright.strips[0].base[c].value.value() == Approx(dim.strips[0].base[c].value.value()).margin(1e-4));
    CHECK(bright.light.at({300, 200}).r == Approx(2 * dim.light.at({300, 200}).r).epsilon(1e-3));
}

TEST_CASE("an overview made by averaging measures in the scan's own pixels") {
    Sheet sheet;
    sheet.strips.resize(1);
    sheet.factor = 6;
    const Drawn drawn = draw(sheet);
    const SheetDensity d = measure(drawn);
    CHECK(d.light.scan_width == static_cast<double>(drawn.overview.scan_width));
    CHECK(d.light.at({d.light.scan_width / 2, d.light.scan_height / 2}).b ==
          Approx(drawn.light[2](d.light.scan_width / 12, d.light.scan_height / 12)).epsilon(0.007));
    CHECK(worst_base_error(d.strips[0], sheet.strips[0].film) < kBaseAim / 3);
}

TEST_CASE("the same sheet gives the same numbers, bit for bit") {
    Sheet sheet;
    sheet.strips.resize(2);
    const Drawn drawn = draw(sheet);
    const SheetDensity a = measure(drawn), b = measure(drawn);
    CHECK(a.strips == b.strips);
    CHECK(a.light.coefficient == b.light.coefficient);
    CHECK(a.findings == b.findings);
}
