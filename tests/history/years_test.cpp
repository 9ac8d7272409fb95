// SPDX-License-Identifier: GPL-3.0-or-later
// Two invented years: what was planted is found, what was not is not claimed, and intervals hold the truth as often as they say.
#include "history/years.h"

using namespace basefog;

namespace {

struct Totals {
    int runs = 0, with_false_claims = 0, with_misses = 0;
    Tally sum;
};

Totals repeat(synthetic::YearsSpec spec, int runs) {
    Totals totals;
    for (int i = 0; i < runs; ++i) {
        spec.seed = 1000 + static_cast<std::uint64_t>(i);
        const synthetic::Years years = synthetic::simulate_years(spec);
        const Tally t = tally(find_trends(rolls_of(years), TrendOptions{}).value(), years.truth, spec.planted);
        ++totals.runs;
        totals.with_false_claims += t.false_claims > 0 ? 1 : 0;
        totals.with_misses += t.planted_missed > 0 ? 1 : 0;
        totals.sum.planted_found += t.planted_found;
        totals.sum.planted_missed += t.planted_missed;
        totals.sum.false_claims += t.false_claims;
        totals.sum.covered += t.covered;
        totals.sum.intervals += t.intervals;
    }
    return totals;
}

std::string in_words(const Totals& t) {
    return std::to_string(t.runs) + " runs: false claims in " + std::to_string(t.with_false_claims) + ", planted effects missed in " +
           std::to_string(t.with_misses) + " (" + std::to_string(t.sum.planted_missed) + " of " + std::to_string(t.sum.planted_found + t.sum.planted_missed) +
           "), truth inside " + std::to_string(t.sum.covered) + " of " + std::to_string(t.sum.intervals) + " intervals";
}

}  // namespace

TEST_CASE("planted years: the over-used litre, the hasty wash and the streaking tank are found, and nothing else") {
    const Totals t = repeat({}, 10);
    INFO(in_words(t));
    CHECK(t.sum.planted_missed == 0);
    CHECK(t.with_false_claims <= 2);  // of 10 at 5 % each: more happens in 1 of 90 such tests, and seeds are fixed
}

TEST_CASE("years of chance: nothing is claimed") {
    synthetic::YearsSpec spec;
    spec.planted = false;
    const Totals t = repeat(spec, 20);
    INFO(in_words(t));
    CHECK(t.with_false_claims <= 3);
    CHECK(static_cast<double>(t.sum.covered) / t.sum.intervals > 0.92);
}

TEST_CASE("two hundred years of chance and of planted effects", "[.slow]") {
    synthetic::YearsSpec spec;
    constexpr double kHighest = 0.995;  // chance of 95 % intervals at much more than that: they would be needlessly wide
    for (const double scatter : {0.0, 1.0, 3.0}) {
        spec.session_scatter = scatter;
        spec.planted = false;
        const Totals chance = repeat(spec, 200);
        WARN("nothing planted, session scatter x " << scatter << ": " << in_words(chance));
        CHECK(chance.with_false_claims <= 10);
        const double held = static_cast<double>(chance.sum.covered) / chance.sum.intervals;
        CHECK(held >= 0.94);
        CHECK(held <= kHighest);
    }
    spec.session_scatter = 1;
    spec.planted = true;
    const Totals planted = repeat(spec, 200);
    WARN("planted: " << in_words(planted));
    CHECK(planted.with_false_claims <= 10);
    CHECK(200 * planted.sum.planted_missed <=
          planted.sum.planted_missed + planted.sum.planted_found);  // half a percent: some years hold a session mostly fogged
    CHECK(static_cast<double>(planted.sum.covered) / planted.sum.intervals >= 0.94);
}
