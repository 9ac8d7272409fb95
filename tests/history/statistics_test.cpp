// SPDX-License-Identifier: GPL-3.0-or-later
#include "history/statistics.h"

#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog::history_room;

TEST_CASE("medians and robust spread: known values, even and odd counts, an outlier that changes little") {
    CHECK(median({3}) == 3);
    CHECK(median({4, 1, 3}) == 3);
    CHECK(median({4, 1, 3, 2}) == 2.5);
    // Five values 1 apart: median distance 1.
    CHECK(robust_std({1, 2, 3, 4, 5}) == Approx(1.482602218505602));
    CHECK(robust_std({1, 2, 3, 4, 5000}) == Approx(1.482602218505602));
    CHECK(robust_std({2, 2, 2, 2}) == 0);
}

TEST_CASE("normal and Student distributions meet their printed tables") {
    // NIST/SEMATECH e-Handbook of Statistical Methods [NIST-Handbook], 1.3.6.7.1 and 1.3.6.7.2, printed to 3 or 5 digits (from memory).
    CHECK(normal_cdf(1.96) == Approx(0.97500).margin(5e-6));
    CHECK(normal_quantile(0.975) == Approx(1.959964).margin(5e-7));
    CHECK(student_quantile(0.975, 1) == Approx(12.706).margin(5e-4));
    CHECK(student_quantile(0.975, 10) == Approx(2.228).margin(5e-4));
    CHECK(student_quantile(0.995, 5) == Approx(4.032).margin(5e-4));
    CHECK(student_quantile(0.95, 30) == Approx(1.697).margin(5e-4));
    CHECK(student_quantile(0.999, 14) == Approx(3.787).margin(5e-4));
}

TEST_CASE("Student's distribution in closed form at one and two degrees of freedom, its symmetry, and its far tail") {
    for (const double t : {-3.0, -0.4, 0.0, 0.7, 25.0}) {
        CHECK(student_cdf(t, 1) == Approx(0.5 + std::atan(t) / M_PI).margin(1e-12));
        CHECK(student_cdf(t, 2) == Approx(0.5 + t / (2 * std::sqrt(2 + t * t))).margin(1e-12));
        CHECK(student_cdf(t, 7) + student_cdf(-t, 7) == Approx(1).margin(1e-12));
    }
    CHECK(student_two_sided(1e6, 2) == Approx(1e-12).epsilon(1e-3));  // 2 df: 1/t^2 far out
    CHECK(student_two_sided(INFINITY, 5) == 0);
    CHECK(student_cdf(student_quantile(0.123, 3.7), 3.7) == Approx(0.123).margin(1e-12));
}

TEST_CASE("the interval of a median is that of the binomial distribution") {
    // n = 10: P(fewer than 2 of 10) = 11/1024 = 0.0107 a side, so 97.9 %: the 2nd and 9th values. Closed form.
    const MedianEstimate ten = median_with_interval({10, 9, 8, 7, 6, 5, 4, 3, 2, 1}, 0.95);
    CHECK(ten.value == 5.5);
    REQUIRE(ten.interval);
    CHECK(*ten.interval == Interval{2, 9});
    // n = 5: even the extremes hold the median with 1 - 2/32 = 93.75 % only. n = 6: 1 - 2/64 = 96.9 %.
    CHECK_FALSE(median_with_interval({1, 2, 3, 4, 5}, 0.95).interval);
    REQUIRE(median_with_interval({1, 2, 3, 4, 5, 6}, 0.95).interval);
    CHECK(*median_with_interval({1, 2, 3, 4, 5, 6}, 0.95).interval == Interval{1, 6});
    CHECK(*median_with_interval(std::vector<double>(3000, 1.0), 0.95).interval == Interval{1, 1});
}

TEST_CASE("p values adjusted for many questions") {
    // By the rule of [Holm1979]: smallest times 4, next times 3 and so on, never falling, at most 1.
    const auto adjusted = holm_adjusted({0.01, 0.04, 0.03, 0.005});
    const double expected[] = {0.03, 0.06, 0.06, 0.02};
    for (std::size_t i = 0; i < 4; ++i) CHECK(adjusted[i] == Approx(expected[i]));
    CHECK(holm_adjusted({0.9, 0.8}) == std::vector<double>{1, 1});
    CHECK(holm_adjusted({}).empty());
}
