// SPDX-License-Identifier: GPL-3.0-or-later
// The balance each positive is made with.
#include "pipeline/print.h"

#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::pipeline;

TEST_CASE("a frame in another light than its roll's has that light's balance, unless its own was asked for") {
    RollFilm film;
    film.model.balance = {LogExposure(0.10), LogExposure(-0.02), LogExposure(-0.09)};
    film.frames.resize(3);
    film.frames[1].light_shift = film.frames[2].light_shift = {LogExposure(0.2), LogExposure(-0.02), LogExposure(-0.3)};
    std::vector<FrameSamples> frames(3);
    std::vector<PrintValues> prints(3);
    prints[2].balance.by = BalanceChoice::By::numbers;
    prints[2].balance.stops = {Stops(1), Stops(0), Stops(-1)};
    const PrintValues of_roll;
    std::vector<Finding> findings;
    const auto balances = balances_of(film, frames, prints, of_roll, findings);
    REQUIRE(balances.size() == 3);
    CHECK(balances[0] == film.model.balance);
    CHECK(balances[1].r.value() == Approx(0.30));
    CHECK(balances[1].g.value() == Approx(-0.04));
    CHECK(balances[1].b.value() == Approx(-0.39));
    CHECK(balances[2].r.value() == Approx(to_log_exposure(Stops(1)).value()));
    CHECK(findings.empty());
    // Numbers that were chosen for the roll hold for its own light.
    const std::vector<PrintValues> alike(3, prints[2]);
    const auto of_numbers = balances_of(film, frames, alike, prints[2], findings);
    CHECK(of_numbers[0].b.value() == Approx(to_log_exposure(Stops(-1)).value()));
    CHECK(of_numbers[1].b.value() == Approx(to_log_exposure(Stops(-1)).value() - 0.3));
    film.model.silver = true;
    CHECK(balances_of(film, frames, prints, of_roll, findings)[1] == film.model.balance);  // silver has no colour to balance
}
