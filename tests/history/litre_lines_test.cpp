// SPDX-License-Identifier: GPL-3.0-or-later
#include "history/litre_lines.h"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog::history_room;

TEST_CASE("alone in their sessions, rolls give the certified least-squares line") {
    // NIST Statistical Reference Datasets [NIST-StRD], linear regression, "Norris": ozone monitors. Certified: slope 1.00211681802045 with
    // standard deviation 0.429796848199937E-03, residual standard deviation 0.884796396144373.
    const std::array<double, 36> x{0.2,   337.4, 118.2, 884.6, 10.1,  226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,   0.6,  775.5, 666.9, 338.0, 447.5, 11.6,
                                   556.0, 228.1, 995.8, 887.6, 120.2, 0.3,   0.3,   556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5};
    const std::array<double, 36> y{0.1,   338.8, 118.1, 888.0, 9.2,   228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,   0.1,  778.1, 668.8, 339.3, 448.9, 10.8,
                                   557.7, 228.3, 998.0, 888.8, 119.6, 0.3,   0.6,   557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2};
    std::vector<RollPoint> points;
    for (std::size_t i = 0; i < x.size(); ++i) points.push_back({0, static_cast<int>(i), 0, x[i], y[i]});
    const LitreLines fit = fit_litre_lines(points, 1, 0.95);
    for (const bool aside : fit.set_aside) CHECK_FALSE(aside);
    constexpr double kDigits = 1e-9;  // of the 15 certified; the data's own scale costs a few
    REQUIRE(fit.lines[0].slope);
    CHECK(*fit.lines[0].slope == Approx(1.00211681802045).epsilon(kDigits));
    CHECK(fit.lines[0].std_error == Approx(0.429796848199937e-3).epsilon(kDigits));
    CHECK(std::hypot(fit.roll_std, fit.session_std) == Approx(0.884796396144373).epsilon(kDigits));
    CHECK(fit.df == 34);
    CHECK(fit.lines[0].y_middle - *fit.lines[0].slope * fit.lines[0].x_middle == Approx(-0.262323073774029).epsilon(1e-6));
}

TEST_CASE("the variance of sessions and of rolls: a published example") {
    // Yields of dyestuff, six batches of five; restricted maximum likelihood gives standard deviations 42.00 between and 49.51
    // within batches [Bates2010, chapter 1].
    const std::array<std::array<double, 5>, 6> yields{{{1545, 1440, 1440, 1520, 1580},
                                                       {1540, 1555, 1490, 1560, 1495},
                                                       {1595, 1550, 1605, 1510, 1560},
                                                       {1445, 1440, 1595, 1465, 1545},
                                                       {1595, 1630, 1515, 1635, 1625},
                                                       {1520, 1455, 1450, 1480, 1445}}};
    std::vector<RollPoint> points;
    for (int batch = 0; batch < 6; ++batch)
        for (const double y : yields[static_cast<std::size_t>(batch)]) points.push_back({0, batch, 0, 1, y});
    const LitreLines fit = fit_litre_lines(points, 1, 0.95);
    CHECK(fit.session_std == Approx(42.00).margin(0.005));
    CHECK(fit.roll_std == Approx(49.51).margin(0.005));
    CHECK_FALSE(fit.lines[0].slope);  // every x is the same
    CHECK(fit.df == 5);
}

TEST_CASE("equal sessions: the line is that of the sessions' means, as sure as these scatter about it") {
    // Closed form of a balanced nested design: slope by least squares on the means, its variance from the mean square between sessions.
    const std::array<double, 5> x{0, 6, 12, 18, 24}, slip{0.9, -1.1, 0.4, 0.7, -0.6}, within{-0.3, 0.1, 0.2, -0.1, 0.1};
    std::vector<RollPoint> points;
    std::array<double, 5> mean{};
    for (std::size_t s = 0; s < 5; ++s)
        for (std::size_t i = 0; i < 5; ++i) {
            const double y = 3 + 0.2 * x[s] + slip[s] + within[(i + s) % 5];
            points.push_back({0, static_cast<int>(s), 0, x[s], y});
            mean[s] += y / 5;
        }
    double sxy = 0, sxx = 0, average = 0;
    for (const double m : mean) average += m / 5;
    for (std::size_t s = 0; s < 5; ++s) {
        sxx += (x[s] - 12) * (x[s] - 12);
        sxy += (x[s] - 12) * mean[s];
    }
    const double slope = sxy / sxx;
    double squares = 0;
    for (std::size_t s = 0; s < 5; ++s) squares += std::pow(mean[s] - average - slope * (x[s] - 12), 2);
    const LitreLines fit = fit_litre_lines(points, 1, 0.95);
    REQUIRE(fit.lines[0].slope);
    CHECK(*fit.lines[0].slope == Approx(slope).epsilon(1e-9));
    CHECK(fit.df == 3);
    constexpr double kSearch = 1e-3;  // the ratio of variances is searched to about this share
    CHECK(fit.lines[0].std_error == Approx(std::sqrt(squares / 3 / sxx)).epsilon(kSearch));
    REQUIRE(fit.lines[0].interval);
    CHECK(fit.lines[0].interval->high - *fit.lines[0].slope == Approx(3.182 * fit.lines[0].std_error).epsilon(1e-3));  // t(0.975, 3), printed
}

TEST_CASE("a fogged roll is set aside and bends nothing, stocks at different heights are one line, scale and shift carry through") {
    const auto drawn = [](double scale, double shift, double fogged) {
        std::vector<RollPoint> points;
        unsigned state = 7;
        const auto noise = [&] {
            state = state * 1664525u + 1013904223u;
            return static_cast<double>(state >> 8) / (1u << 24) - 0.5;
        };
        for (int bath = 0; bath < 3; ++bath)
            for (int session = 0; session < 4; ++session)
                for (int roll = 0; roll < 6; ++roll) {
                    const double y = 0.3 + 0.4 * (roll % 2) + 0.01 * bath * session * 6 + 0.02 * noise();
                    points.push_back({bath, session, roll % 2, session * 6.0, scale * y + shift});
                }
        points[20].y += scale * fogged;
        return points;
    };
    const LitreLines clean = fit_litre_lines(drawn(1, 0, 0), 3, 0.95), spoilt = fit_litre_lines(drawn(1, 0, 2.5), 3, 0.95);
    for (int bath = 0; bath < 3; ++bath) {
        const LitreLine& line = clean.lines[static_cast<std::size_t>(bath)];
        CHECK(line.n == 24);
        CHECK(line.sessions == 4);
        REQUIRE(line.interval);
        CHECK(line.interval->holds(0.01 * bath));
        CHECK(*spoilt.lines[static_cast<std::size_t>(bath)].slope == Approx(*line.slope).margin(0.3 * line.std_error));
    }
    CHECK(spoilt.set_aside[20]);
    CHECK(spoilt.lines[0].n == 23);
    CHECK(clean.lines[2].p_value < 1e-6);
    CHECK(clean.lines[0].p_value > 1e-3);
    const LitreLines scaled = fit_litre_lines(drawn(1000, -50, 0), 3, 0.95);
    CHECK(*scaled.lines[1].slope == Approx(1000 * *clean.lines[1].slope).epsilon(1e-6));
    CHECK(scaled.lines[1].std_error == Approx(1000 * clean.lines[1].std_error).epsilon(1e-4));
}

TEST_CASE("too little to tell a line: nothing is claimed and nothing breaks") {
    CHECK(fit_litre_lines({}, 2, 0.95).lines.size() == 2);
    const LitreLines one = fit_litre_lines({{0, 0, 0, 0, 1.5}}, 1, 0.95);
    CHECK_FALSE(one.lines[0].slope);
    CHECK(one.lines[0].p_value == 1);
    // One stock before, another after: where x differs, so does the stock.
    const LitreLines apart = fit_litre_lines({{0, 0, 0, 0, 1}, {0, 0, 0, 0, 1.1}, {0, 1, 1, 6, 2}, {0, 1, 1, 6, 2.1}}, 1, 0.95);
    CHECK_FALSE(apart.lines[0].slope);
    const LitreLines two = fit_litre_lines({{0, 0, 0, 0, 1}, {0, 1, 0, 6, 2}}, 1, 0.95);
    REQUIRE(two.lines[0].slope);
    CHECK_FALSE(two.lines[0].interval);  // no session is left to tell chance by
    const LitreLines same = fit_litre_lines({{0, 0, 0, 0, 1}, {0, 1, 0, 6, 1}, {0, 2, 0, 12, 1}, {0, 3, 0, 18, 1}}, 1, 0.95);
    CHECK(*same.lines[0].slope == Approx(0).margin(1e-12));
    CHECK(std::isfinite(same.lines[0].p_value));
}
