// SPDX-License-Identifier: GPL-3.0-or-later
// Grades over random sheets of invented films: four states of washing, with and without infrared.
#include "residue/measured_sheet.h"

#include <cmath>

using namespace basefog;
using namespace film_sheet;

namespace {

Sheet random_sheet(std::uint64_t seed, bool infrared) {
    Dice dice(seed);
    Sheet sheet;
    sheet.seed = seed;
    sheet.px_per_mm = 10;
    sheet.infrared = infrared;
    sheet.noise = dice.uniform(0.002, 0.005);
    sheet.slivers = dice.uniform() < 0.5;
    const Film film = dice.uniform() < 0.5 ? film_a() : film_b();
    // Well inside each grade's bounds (2 % and 12 %; veils 0.010 and 0.025): the bounds themselves are anyone's guess.
    const double percent[] = {0, dice.uniform(0.6, 1.4), dice.uniform(4, 9), dice.uniform(20, 40)};
    const double veil[] = {0, 0, dice.uniform(0, 0.020), dice.uniform(0.010, 0.05)};
    for (int k = 0; k < 4; ++k) {
        Strip strip;
        strip.film = film;
        strip.veil = veil[k] < 0.006 ? 0 : veil[k];
        if (percent[k] > 0) strip.carbon = smears(percent[k], sheet.frames, dice);
        strip.dust = static_cast<int>(dice.uniform(0, 12));
        strip.edge_marks = dice.uniform() < 0.5;
        sheet.strips.push_back(strip);
    }
    return sheet;
}

ResidueGrade true_grade(double percent, double veil) {
    // The report's definition, as the design states it.
    if (percent > 12 || veil > 0.025) return ResidueGrade::heavy;
    if (percent > 2 || veil >= 0.010) return ResidueGrade::partial;
    return percent > 0 ? ResidueGrade::trace : ResidueGrade::clean;
}

}  // namespace

TEST_CASE("with infrared every grade is right and the area within a fifth") {
    for (std::uint64_t seed = 1; seed <= 5; ++seed) {
        const Sheet sheet = random_sheet(seed, true);
        const MeasuredSheet m = measure(draw(sheet));
        for (std::size_t i = 0; i < 4; ++i) {
            const StripResidue& s = m.residue.strips[i];
            INFO("seed " << seed << " strip " << i << " true " << m.drawn.carbon_percent[i] << " found " << s.area_percent.value);
            CHECK(s.grade == true_grade(m.drawn.carbon_percent[i], sheet.strips[i].veil));
            // A fifth is the aim; below 0.1 % a few pixels of blur decide.
            CHECK(s.area_percent.value == Approx(m.drawn.carbon_percent[i]).epsilon(0.2).margin(0.1));
            CHECK(s.veil.value.value() == Approx(sheet.strips[i].veil).margin(0.004));
            CHECK(s.veil_separable);
        }
    }
}

TEST_CASE("without infrared clean and heavy strips are told, and grades are mostly right") {
    int right = 0, total = 0;
    for (std::uint64_t seed = 11; seed <= 17; ++seed) {
        const Sheet sheet = random_sheet(seed, false);
        const MeasuredSheet m = measure(draw(sheet), {Density(0.05), {"one", "one", "one", "one"}});
        for (std::size_t i = 0; i < 4; ++i) {
            const StripResidue& s = m.residue.strips[i];
            const ResidueGrade truth = true_grade(m.drawn.carbon_percent[i], sheet.strips[i].veil);
            INFO("seed " << seed << " strip " << i << " true " << m.drawn.carbon_percent[i] << " found " << s.area_percent.value << " veil "
                         << sheet.strips[i].veil << " found " << s.veil.value.value());
            right += s.grade == truth;
            ++total;
            if (truth == ResidueGrade::clean) CHECK(s.grade == ResidueGrade::clean);
            if (truth == ResidueGrade::heavy) CHECK(s.grade == ResidueGrade::heavy);
            CHECK(s.veil_separable);
        }
    }
    // Clear film is a tenth of a strip: a trace that happens to lie on pictures only is missed. 24 of 32 were right over
    // seeds 311 to 318; chance alone would give a quarter.
    CHECK(right >= total * 2 / 3);
}

TEST_CASE("clean pictures full of neutral greys are not called residue") {
    for (const bool infrared : {false, true}) {
        for (std::uint64_t seed = 21; seed <= 22; ++seed) {
            Sheet sheet;
            sheet.seed = seed;
            sheet.infrared = infrared;
            sheet.strips.resize(2);
            sheet.strips[1].film = film_b();
            for (Strip& s : sheet.strips) s.greys_only = true;
            const MeasuredSheet m = measure(draw(sheet));
            for (const StripResidue& s : m.residue.strips) {
                CHECK(s.grade == ResidueGrade::clean);
                CHECK(s.area_percent.value < 0.05);
            }
            CHECK_FALSE(has_finding(m.residue, "re-wash-cautions"));
        }
    }
}
