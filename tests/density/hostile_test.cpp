// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/density/measure_density.h"
#include "density/film_sheet.h"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

using namespace basefog;
using namespace film_sheet;

namespace {

bool has_finding(const SheetDensity& d, const std::string& code) {
    return std::any_of(d.findings.begin(), d.findings.end(), [&](const Finding& f) { return f.code == code; });
}

void require_finite(const SheetDensity& d) {
    for (const StripBase& s : d.strips) {
        for (int c = 0; c < 3; ++c) {
            CHECK(std::isfinite(s.base[c].value.value()));
            CHECK(std::isfinite(s.base[c].std_uncertainty.value()));
            CHECK(std::isfinite(s.noise[c]));
        }
    }
    for (std::int64_t y = 0; y < d.density.height(); ++y) {
        for (std::int64_t x = 0; x < d.density.width(); ++x) {
            const DensityRgbi& p = d.density(x, y);
            if (!(p.r >= -0.3F && p.r <= static_cast<float>(kMaxDensity) && p.b >= -0.3F && p.b <= static_cast<float>(kMaxDensity)))
                FAIL("density out of range");
        }
    }
}

Sheet small_sheet() {
    Sheet sheet;
    sheet.strips.resize(1);
    sheet.frames = 2;
    return sheet;
}

void fill(Drawn& drawn, LinearRgbi value) {
    for (std::int64_t y = 0; y < drawn.overview.pixels.height(); ++y) {
        std::fill_n(drawn.overview.pixels.row(y), drawn.overview.pixels.width(), value);
    }
}

}  // namespace

TEST_CASE("light at the white limit is flagged, and what is not clipped is used") {
    Sheet sheet = small_sheet();
    sheet.light = {1.3, 0.9, 0.84, 0.88};  // red clips everywhere in bare light
    const auto all = draw(sheet);
    auto d = measure_density(all.overview, all.layout, all.regions, {});
    REQUIRE(d.has_value());
    CHECK(has_finding(*d, "bare-light-clipped"));
    CHECK(has(d->strips[0].base.r.flags, MeasureFlag::clipped));
    require_finite(*d);
}

TEST_CASE("scans that are all dark, all white or not a number still give a result") {
    const float nan = std::numeric_limits<float>::quiet_NaN();
    for (const LinearRgbi value : {LinearRgbi{0, 0, 0, 0}, LinearRgbi{1, 1, 1, 0}, LinearRgbi{nan, nan, nan, nan}}) {
        Drawn drawn = draw(small_sheet());
        fill(drawn, value);
        const auto d = measure_density(drawn.overview, drawn.layout, drawn.regions, {});
        REQUIRE(d.has_value());
        require_finite(*d);
    }
}

TEST_CASE("scattered samples that are not numbers do not spoil their neighbours") {
    const Sheet sheet = small_sheet();
    Drawn drawn = draw(sheet);
    Dice dice(3);
    const float nan = std::numeric_limits<float>::quiet_NaN();
    for (int k = 0; k < 20000; ++k) {
        const auto x = static_cast<std::int64_t>(dice.uniform() * static_cast<double>(drawn.overview.pixels.width()));
        const auto y = static_cast<std::int64_t>(dice.uniform() * static_cast<double>(drawn.overview.pixels.height()));
        drawn.overview.pixels(x, y).g = nan;
    }
    const auto d = measure_density(drawn.overview, drawn.layout, drawn.regions, {});
    REQUIRE(d.has_value());
    require_finite(*d);
    CHECK(d->strips[0].base.g.value.value() == Approx(sheet.strips[0].film.base[1]).margin(0.004));
}

TEST_CASE("a sheet without film, and a strip without clear film") {
    Drawn empty = draw(small_sheet());
    empty.layout.strips.clear();
    for (std::int64_t y = 0; y < empty.regions.strip.height(); ++y) std::fill_n(empty.regions.strip.row(y), empty.regions.strip.width(), std::int16_t{-1});
    const auto none = measure_density(empty.overview, empty.layout, empty.regions, {});
    REQUIRE(none.has_value());
    CHECK(none->strips.empty());

    Drawn covered = draw(small_sheet());
    for (std::int64_t y = 0; y < covered.regions.labels.height(); ++y) {
        std::replace(covered.regions.labels.row(y), covered.regions.labels.row(y) + covered.regions.labels.width(), Region::clear_film, Region::unsure);
    }
    const auto d = measure_density(covered.overview, covered.layout, covered.regions, {});
    REQUIRE(d.has_value());
    CHECK(has_finding(*d, "base-not-in-view"));
    CHECK(has(d->strips[0].base.r.flags, MeasureFlag::extrapolated));
    CHECK(d->strips[0].base.g.std_uncertainty.value() >= 0.03);
}

TEST_CASE("options out of range are refused with a reason") {
    CHECK(validate(DensityOptions{}).has_value());
    for (const DensityOptions bad : {DensityOptions{-0.1, Millimetres(0.1)}, DensityOptions{0.9, Millimetres(0.1)}, DensityOptions{0.02, Millimetres(0)},
                                     DensityOptions{std::nan(""), Millimetres(0.1)}}) {
        const auto result = validate(bad);
        REQUIRE_FALSE(result.has_value());
        CHECK(result.error().code == ErrorCode::usage);
        CHECK_FALSE(result.error().what.empty());
    }
    const auto empty = measure_density(Overview{}, SheetLayout{}, RegionMap{}, {});
    REQUIRE_FALSE(empty.has_value());
    CHECK(empty.error().code == ErrorCode::malformed);
}
