// SPDX-License-Identifier: GPL-3.0-or-later
#include "pipeline/roll_facts.h"

#include "basefog/ledger/read_ledger.h"

#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::pipeline;

TEST_CASE("facts and notes pass from the ledger to the film stage") {
    const auto ledger = parse_ledger(R"([stock.t500]
box_speed = 500
balance = "tungsten"
own_process = "ECN-2"
expiry = 2016-03-14
[session.s]
date = 2026-03-14
process = "C-41"
[roll.R1]
stock = "t500"
session = "s"
rating = 200
light = "daylight"
filter = "85B"
frames = [ { number = 4, kind = "step wedge", step = 0.2 }, { number = 5, kind = "grey card" }, { number = 6, stops = 1 } ]
)",
                                     "l.toml");
    REQUIRE(ledger);
    const RollFacts facts = facts_of_roll(*ledger, "R1");
    CHECK(facts.id == "R1");
    CHECK(facts.stock == "t500");
    CHECK(facts.session == "s");
    CHECK(facts.box_speed == 500.0);
    CHECK(facts.rating == 200.0);
    CHECK(facts.stock_balance == Kelvin(3200));
    CHECK(facts.light == Kelvin(5500));
    CHECK(facts.filter_mired == Approx(131));
    CHECK(facts.process == "C-41");
    CHECK(facts.own_process == "ECN-2");
    CHECK(facts.years_past_expiry.value() == Approx(10).margin(0.01));  // leap days against a year of 365.25
    const Roll& roll = ledger->rolls[0];
    CHECK(note_of_frame(roll, 4) == FrameNote{FrameUse::step_wedge, 0.2, {}, {}});
    CHECK(note_of_frame(roll, 5).use == FrameUse::grey_card);
    CHECK(note_of_frame(roll, 6) == FrameNote{FrameUse::picture, 0, Stops(1), {}});
    CHECK(note_of_frame(roll, 7) == FrameNote{});
    CHECK(facts_of_roll(*ledger, "R9").stock.empty());
}

TEST_CASE("earlier rolls of the stock speak for a roll, the roll itself does not") {
    HistoryRoll earlier;
    earlier.stock = "t500", earlier.process = "C-41";
    earlier.chart_colour = "0.7 0.28 0.02 0.1 0.75 0.15 0 0.1 0.9 1.1 -0.1 0 -0.05 1.15 -0.1 0 -0.1 1.1";
    earlier.slope_red = 0.5, earlier.slope_green = 0.6, earlier.slope_blue = 0.65;
    std::vector<HistoryRoll> history;
    for (const char* id : {"R1", "R2", "R3", "R4"}) earlier.roll = id, history.push_back(earlier);
    RollFacts facts;
    facts.id = "R1", facts.stock = "t500", facts.process = "C-41";
    add_history(facts, history, {"R1"});
    REQUIRE(facts.earlier_curve);
    CHECK(facts.earlier_curve->rolls == 3);
    CHECK(facts.earlier_curve->slope.b.value == Approx(0.65));
    REQUIRE(facts.earlier_colour);
    CHECK(facts.earlier_colour->neutral_share[0][1] == Approx(0.28));
    CHECK(facts.earlier_colour->scene_from_layer[2][1] == Approx(-0.1));
    RollFacts other = facts;
    other.earlier_curve.reset(), other.earlier_colour.reset();
    other.process = "ECN-2";
    add_history(other, history, {"R1"});
    CHECK_FALSE(other.earlier_curve);
    CHECK_FALSE(other.earlier_colour);
    other.process = "C-41";
    add_history(other, history, {"R1", "R2", "R3", "R4"});
    CHECK_FALSE(other.earlier_colour);
}
