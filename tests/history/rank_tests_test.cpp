// SPDX-License-Identifier: GPL-3.0-or-later
#include "history/rank_tests.h"

#include <catch2/catch.hpp>

using namespace basefog::history_room;

TEST_CASE("Sen's worked example: line and interval") {
    // [Sen1968]: slope 4, limits 26/7 and 35/8 (secondary source: the tests of scipy's theilslopes, for 93 %). Counted exactly, these
    // limits hold in 1 - 2 76/5040 = 97.0 % of cases and the next narrower in 1 - 2 174/5040 = 93.1 %: so they are the exact ones for 95 %.
    const std::vector<double> x{1, 2, 3, 4, 10, 12, 18}, y{9, 15, 19, 20, 45, 55, 78};
    const auto line = theil_sen(x, y, 0.95);
    REQUIRE(line);
    CHECK(line->slope == Approx(4));
    CHECK(line->intercept == Approx(6));  // median of y - 4 x
    REQUIRE(line->interval);
    CHECK(line->interval->low == Approx(26.0 / 7));
    CHECK(line->interval->high == Approx(35.0 / 8));
    CHECK(line->p_value == Approx(2.0 / 5040));  // every pair agrees: one order of 7!, and its reverse
}

TEST_CASE("a line with ties in both directions, against an independent package") {
    // Example of the R package statpsych, function ci.theil, citing Hollander and Wolfe: 0.5, from 0.3243243 to 0.75.
    const std::vector<double> y{21, 4, 9, 12, 35, 18, 10, 22, 24, 1, 6, 8, 13, 16, 19}, x{67, 28, 30, 28, 52, 40, 25, 37, 44, 10, 14, 20, 28, 40, 51};
    const auto line = theil_sen(x, y, 0.95);
    REQUIRE(line);
    CHECK(line->slope == Approx(0.5));
    REQUIRE(line->interval);
    CHECK(line->interval->low == Approx(0.3243243).margin(5e-8));
    CHECK(line->interval->high == Approx(0.75));
}

TEST_CASE("inversions of random orders: the triangle of Mahonian numbers") {
    // Rows 3 and 4 of the triangle: 1 2 2 1 and 1 3 5 6 5 3 1, over n!. A published sequence (number A008302 of the on-line encyclopedia of integer sequences).
    const auto three = inversion_probabilities(3), four = inversion_probabilities(4);
    const double row3[] = {1, 2, 2, 1}, row4[] = {1, 3, 5, 6, 5, 3, 1};
    REQUIRE(three.size() == 4);
    REQUIRE(four.size() == 7);
    for (std::size_t i = 0; i < 4; ++i) CHECK(three[i] * 6 == Approx(row3[i]));
    for (std::size_t i = 0; i < 7; ++i) CHECK(four[i] * 24 == Approx(row4[i]));
}

TEST_CASE("lines within strata ignore how high strata lie") {
    std::vector<std::vector<Point>> strata(2);
    for (int i = 0; i < 6; ++i) {
        strata[0].push_back({static_cast<double>(i), 2.0 * i});
        strata[1].push_back({static_cast<double>(i) + 10, 2.0 * i - 500});
    }
    const auto line = theil_sen_within(strata, 0.95);
    REQUIRE(line);
    CHECK(line->slope == Approx(2));
    CHECK(line->n == 12);
    CHECK(line->p_value == Approx(2.0 / (720.0 * 720.0)));
    CHECK_FALSE(theil_sen({1, 1, 1}, {1, 2, 3}, 0.95));
    CHECK_FALSE(theil_sen({}, {}, 0.95));
    const auto two = theil_sen({1, 2}, {5, 6}, 0.95);
    REQUIRE(two);
    CHECK_FALSE(two->interval);
    CHECK(two->p_value == 1);
}

TEST_CASE("p values of larger samples, exact and by the normal distribution, against an independent library") {
    // scipy 1.10: kendalltau(method="exact") of 40 values and of one more, which here goes by the normal distribution; theilslopes' limits.
    std::vector<double> x, y;
    for (int i = 0; i < 40; ++i) {
        x.push_back(i);
        y.push_back(((i * 17) % 40) + 0.61803 * i);
    }
    const auto exact = theil_sen(x, y, 0.95);
    REQUIRE(exact);
    CHECK(exact->p_value == Approx(0.0020225053617815712).epsilon(1e-9));
    CHECK(exact->slope == Approx(0.4751728571428572));
    REQUIRE(exact->interval);
    constexpr double kOneRank = 0.02;  // one rank more or less among 780 slopes: theilslopes goes by the normal distribution
    CHECK(exact->interval->low == Approx(0.22672565217391308).margin(kOneRank));
    CHECK(exact->interval->high == Approx(0.9513633333333332).margin(kOneRank));
    x.push_back(40);
    y.push_back(30.1);
    const auto nearly = theil_sen(x, y, 0.95);
    REQUIRE(nearly);
    constexpr double kNormal = 0.15;  // share by which the normal tail misses the exact one here
    CHECK(nearly->p_value == Approx(0.0034704569147611013).epsilon(kNormal));
    // scipy 1.10, mannwhitneyu(method="asymptotic").
    std::vector<double> a, b;
    for (int i = 0; i < 45; ++i) a.push_back((i * 37) % 101);
    for (int i = 0; i < 40; ++i) b.push_back((i * 53) % 103 + 9);
    CHECK(rank_sum_shift(a, b, 0.95).p_value == Approx(0.27104681516838613).epsilon(1e-9));
}

TEST_CASE("the rank sum of a published example") {
    // Hollander and Wolfe's permeability constants, as in the documentation of R's wilcox.test (from memory); one-sided p 0.1272.
    // The distribution is symmetric without ties, so two-sided twice that. scipy 1.10, mannwhitneyu: 0.2544122544122544.
    const std::vector<double> at_term{0.80, 0.83, 1.89, 1.04, 1.45, 1.38, 1.91, 1.64, 0.73, 1.46}, early{1.15, 0.88, 0.90, 0.74, 1.21};
    const Shift shift = rank_sum_shift(early, at_term, 0.95);
    CHECK(shift.p_value == Approx(0.2544122544122544).epsilon(1e-12));
    CHECK(shift.value == Approx(0.305));  // the book's estimate (from memory)
}

TEST_CASE("rank sums: no difference, ties, complete separation, and the number of groups that takes") {
    CHECK(rank_sum_shift({1, 1, 1}, {1, 1, 1}, 0.95).p_value == 1);
    CHECK(rank_sum_shift({1, 1, 1}, {1, 1, 1}, 0.95).value == 0);
    const Shift apart = rank_sum_shift({1, 2, 3, 4}, {11, 12, 13, 14}, 0.95);
    CHECK(apart.p_value == Approx(2.0 / 70));
    CHECK(apart.value == 10);
    REQUIRE(apart.interval);
    CHECK(*apart.interval == Interval{7, 13});
    CHECK(groups_needed(0.05) == 4);
    CHECK(groups_needed(0.001) == 7);                                                      // 2 / 3432
    CHECK(rank_sum_shift({0, 0, 0, 5}, {5, 5, 5, 0}, 0.95).p_value == Approx(34.0 / 70));  // 8 choose 4: 17 of 70 as far to a side
}

TEST_CASE("many pairs are counted instead of kept, with the same result") {
    std::vector<double> a, b;
    for (int i = 0; i < 2000; ++i) {
        a.push_back((i * 769) % 2003);
        b.push_back((i * 919) % 2011 + 100.25);
    }
    const Shift shift = rank_sum_shift(a, b, 0.95);
    std::vector<double> all;
    for (const double low : a)
        for (const double high : b) all.push_back(high - low);
    CHECK(shift.value == Approx(median(all)).margin(1e-9));
    REQUIRE(shift.interval);
    CHECK(shift.interval->holds(shift.value));
}
