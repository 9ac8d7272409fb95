// SPDX-License-Identifier: GPL-3.0-or-later
#include "residue/measured_sheet.h"

#include <cmath>
#include <limits>

using namespace basefog;
using namespace film_sheet;

namespace {

/// Mean measured and true residue over the pixels where the truth lies within the range.
std::pair<double, double> compare(const MeasuredSheet& m, float from, float to, Region where) {
    double found = 0, truth = 0, n = 0;
    for (std::int64_t y = 0; y < m.drawn.carbon.height(); ++y) {
        for (std::int64_t x = 0; x < m.drawn.carbon.width(); ++x) {
            const float c = m.drawn.carbon(x, y);
            if (c < from || c > to || m.drawn.regions.labels(x, y) != where) continue;
            found += m.residue.residue_density(x, y);
            truth += c;
            ++n;
        }
    }
    REQUIRE(n > 100);
    return {found / n, truth / n};
}

}  // namespace

TEST_CASE("a carbon patch of known density is measured in infrared, on clear film and in pictures") {
    // Carbon absorbs alike at all wavelengths [ScanMetric2001], infrared included (inference).
    Sheet sheet;
    sheet.infrared = true;
    sheet.strips.resize(2);
    sheet.strips[1].film = film_b();
    for (Strip& s : sheet.strips) s.carbon = {{40, 13, 3, 0.30, 1}, {77, 13, 4, 0.15, 1}};
    const MeasuredSheet m = measure(draw(sheet));
    for (const Region where : {Region::clear_film, Region::picture}) {
        const auto [found, truth] = compare(m, 0.08F, 0.5F, where);
        CHECK(found == Approx(truth).margin(0.005));  // a hundredth of a stop of light is 0.003
    }
}

TEST_CASE("carbon that absorbs less in infrared is measured by what the colours show on clear film") {
    constexpr double kShare = 0.93;
    Sheet sheet;
    sheet.infrared = true;
    sheet.strips.resize(2);
    Dice dice(4);
    for (Strip& s : sheet.strips) s.carbon = smears(8, sheet.frames, dice);
    Drawn drawn = draw(sheet);
    for (std::int64_t y = 0; y < drawn.overview.pixels.height(); ++y)
        for (std::int64_t x = 0; x < drawn.overview.pixels.width(); ++x)
            drawn.overview.pixels(x, y).ir *= static_cast<float>(std::pow(10.0, (1 - kShare) * static_cast<double>(drawn.carbon(x, y))));
    const MeasuredSheet m = measure(std::move(drawn));
    REQUIRE(m.residue.infrared);
    CHECK(m.residue.infrared->carbon_gain == Approx(1 / kShare).margin(0.02));
}

TEST_CASE("on clear film the patch is measured without infrared too") {
    Sheet sheet;
    sheet.strips.resize(1);
    sheet.strips[0].carbon = {{39, 13, 4, 0.30, 1}, {77, 5, 5, 0.15, 1}};
    const MeasuredSheet m = measure(draw(sheet));
    const auto [found, truth] = compare(m, 0.08F, 0.5F, Region::clear_film);
    CHECK(found == Approx(truth).margin(0.01));
    CHECK(has_finding(m.residue, "residue-extrapolated", 0));
}

TEST_CASE("the map marks what is dense, the density is 0 off the film and where nothing is told") {
    Sheet sheet;
    sheet.infrared = true;
    sheet.strips.resize(1);
    sheet.strips[0].carbon = {{40, 13, 4, 0.30, 1}};
    const MeasuredSheet m = measure(draw(sheet));
    REQUIRE(m.residue.defects.width() == m.drawn.overview.pixels.width());
    REQUIRE(m.residue.residue_density.height() == m.drawn.overview.pixels.height());
    std::int64_t marked = 0, wrong = 0, missed = 0, off_film = 0, told = 0;
    for (std::int64_t y = 0; y < m.drawn.carbon.height(); ++y) {
        for (std::int64_t x = 0; x < m.drawn.carbon.width(); ++x) {
            const bool is = m.residue.defects(x, y) == Defect::residue;
            marked += is;
            wrong += is && m.drawn.carbon(x, y) < 0.06F;
            missed += !is && m.drawn.carbon(x, y) > 0.10F && m.drawn.regions.labels(x, y) != Region::unsure;
            off_film += m.drawn.regions.strip(x, y) < 0 && m.residue.residue_density(x, y) != 0;
            told += m.drawn.carbon(x, y) < 0.001F && m.residue.residue_density(x, y) > 0;
        }
    }
    CHECK(marked > 2000);
    CHECK(wrong == 0);
    CHECK(missed < marked / 50);
    CHECK(off_film == 0);
    CHECK(told < m.drawn.carbon.width());  // a handful of noise peaks
}

TEST_CASE("silver is never judged by infrared") {
    Sheet sheet;
    sheet.infrared = true;
    sheet.strips.resize(2);
    sheet.strips[0].film = film_silver();
    const MeasuredSheet m = measure(draw(sheet));
    CHECK(m.density.strips[0].silver_image);
    CHECK(has_finding(m.residue, "silver-no-infrared", 0));
    CHECK(m.residue.strips[0].grade == ResidueGrade::clean);
    for (std::int64_t y = 0; y < m.residue.defects.height(); ++y) {
        for (std::int64_t x = 0; x < m.residue.defects.width(); ++x) {
            if (m.drawn.regions.strip(x, y) == 0 && m.drawn.regions.labels(x, y) == Region::picture && m.residue.defects(x, y) != Defect::none)
                FAIL("silver marked");
        }
    }
}

TEST_CASE("an even veil alone, with nothing to compare it with") {
    Sheet sheet;
    sheet.strips.resize(1);
    sheet.strips[0].veil = 0.04;
    const MeasuredSheet m = measure(draw(sheet));
    CHECK_FALSE(m.residue.strips[0].veil_separable);
    CHECK(has_finding(m.residue, "veil-not-separable", 0));
    CHECK(m.residue.strips[0].grade == ResidueGrade::clean);
}

TEST_CASE("a veil is told against a cleaner strip, and named") {
    Sheet sheet;
    sheet.strips.resize(2);
    sheet.strips[1].veil = 0.04;
    for (const bool infrared : {false, true}) {
        sheet.infrared = infrared;
        const MeasuredSheet m = measure(draw(sheet), {Density(0.05), {"tungsten", "tungsten"}});
        CHECK(m.residue.strips[0].grade == ResidueGrade::clean);
        CHECK(m.residue.strips[1].grade == ResidueGrade::heavy);
        CHECK(m.residue.strips[1].veil_separable);
        CHECK(m.residue.strips[1].veil.value.value() == Approx(0.04).margin(0.004));
        CHECK(std::count(m.residue.strips[1].patterns.begin(), m.residue.strips[1].patterns.end(), "veil") == 1);
    }
}

TEST_CASE("a veil on the only strip of its stock is told in infrared against strips of others and goes from its base") {
    Sheet sheet;
    sheet.infrared = true;
    sheet.strips.resize(2);
    sheet.strips[1].film = film_b();
    for (const double veil : {0.0, 0.015}) {
        sheet.strips[1].veil = veil;
        const MeasuredSheet m = measure(draw(sheet));
        CHECK(m.residue.strips[0].grade == ResidueGrade::clean);
        CHECK(m.residue.veil_in_base[0].value == Density(0));
        CHECK(m.residue.strips[1].grade == (veil > 0 ? ResidueGrade::partial : ResidueGrade::clean));
        // Supports and leaks of the two differ: by 0.008 as a neutral density at most (constants.h).
        CHECK(m.residue.strips[1].veil.value.value() == Approx(veil).margin(0.008));
        const double base = m.density.strips[1].base.g.value.value() - m.residue.veil_in_base[1].value.value();
        CHECK(base == Approx(film_b().base[1]).margin(0.010));
    }
}

TEST_CASE("where a second wash is suggested the cautions stand beside it") {
    Sheet sheet;
    sheet.infrared = true;
    sheet.strips.resize(2);
    Dice dice(4);
    sheet.strips[1].carbon = smears(25, sheet.frames, dice);
    const MeasuredSheet m = measure(draw(sheet));
    CHECK(has_finding(m.residue, "residue-heavy", 1));
    const auto caution = std::find_if(m.residue.findings.begin(), m.residue.findings.end(), [](const Finding& f) { return f.code == "re-wash-cautions"; });
    REQUIRE(caution != m.residue.findings.end());
    for (const char* word : {"gloves", "eye", "ventilate", "never mix", "safety data", "local rules"}) CHECK(caution->message.find(word) != std::string::npos);
    // Frames with more residue are told apart: the strip's figure lies between its frames' least and most.
    const auto& frames = m.residue.strips[1].frame_area_percent;
    REQUIRE(frames.size() == 3);
    CHECK(*std::max_element(frames.begin(), frames.end()) > 5);
}

TEST_CASE("resolution does not change the figures") {
    Sheet sheet;
    sheet.infrared = true;
    sheet.strips.resize(1);
    sheet.strips[0].carbon = {{20, 8, 4, 0.25, 1}, {60, 20, 3, 0.2, 2}, {90, 1, 2, 0.3, 1.5}};
    sheet.px_per_mm = 8;
    const MeasuredSheet coarse = measure(draw(sheet));
    sheet.px_per_mm = 14;
    sheet.factor = 3;
    const MeasuredSheet fine = measure(draw(sheet));
    CHECK(coarse.residue.strips[0].area_percent.value == Approx(fine.residue.strips[0].area_percent.value).epsilon(0.05));
    CHECK(coarse.residue.strips[0].mean.value.value() == Approx(fine.residue.strips[0].mean.value.value()).margin(0.002));
}

TEST_CASE("hostile sheets and options") {
    CHECK(validate(ResidueOptions{}).has_value());
    for (const double bad : {0.0, -1.0, 2.0, std::nan("")}) {
        const auto result = validate(ResidueOptions{Density(bad), {}});
        REQUIRE_FALSE(result.has_value());
        CHECK(result.error().code == ErrorCode::usage);
    }
    Sheet sheet;
    sheet.frames = 2;
    sheet.strips.resize(1);
    const float nan = std::numeric_limits<float>::quiet_NaN();
    for (const bool infrared : {false, true}) {
        for (const float value : {0.0F, 1.0F, nan}) {
            sheet.infrared = infrared;
            Drawn drawn = draw(sheet);
            for (std::int64_t y = 0; y < drawn.overview.pixels.height(); ++y) {
                std::fill_n(drawn.overview.pixels.row(y), drawn.overview.pixels.width(), LinearRgbi{value, value, value, infrared ? value : 0});
            }
            const MeasuredSheet m = measure(std::move(drawn));
            REQUIRE(m.residue.strips.size() == 1);
            CHECK(std::isfinite(m.residue.strips[0].area_percent.value));
            CHECK(std::isfinite(m.residue.strips[0].mean.value.value()));
        }
    }
    Drawn none = draw(sheet);
    none.layout.strips.clear();
    CHECK(measure(std::move(none)).residue.strips.empty());
}

TEST_CASE("the same sheet gives the same residue, bit for bit") {
    Sheet sheet;
    sheet.infrared = true;
    sheet.strips.resize(2);
    Dice dice(8);
    sheet.strips[0].carbon = smears(6, sheet.frames, dice);
    const Drawn drawn = draw(sheet);
    const auto density = measure_density(drawn.overview, drawn.layout, drawn.regions, {});
    REQUIRE(density.has_value());
    const auto a = measure_residue(drawn.overview, drawn.layout, drawn.regions, *density, {});
    const auto b = measure_residue(drawn.overview, drawn.layout, drawn.regions, *density, {});
    REQUIRE(a.has_value());
    REQUIRE(b.has_value());
    CHECK(a->strips == b->strips);
    CHECK(a->findings == b->findings);
}
