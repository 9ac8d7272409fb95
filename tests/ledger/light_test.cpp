// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/light.h"

#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;
using namespace basefog::ledger_room;

TEST_CASE("filters shift by the difference of the mired of the two lights they join") {
    // Definition: mired = 10^6 / K. The pairs of lights are those the filters are sold for; common practice, as in the
    // table of "Mired/Filter Calculator", pointsinfocus.com/tools/mired-calculator (its 82A excepted, see light.cpp).
    // Tolerance: published shifts are whole numbers, and 81EF (52.8) and others are rounded once more: 0.7 mired.
    struct Pair {
        const char* filter;
        double from, to;
    };
    const Pair pairs[] = {{"85", 5500, 3400},   {"85B", 5500, 3200}, {"85C", 5500, 3800}, {"80A", 3200, 5500}, {"80B", 3400, 5500}, {"80C", 3800, 5500},
                          {"80D", 4200, 5500},  {"81", 3300, 3200},  {"81A", 3400, 3200}, {"81B", 3500, 3200}, {"81C", 3600, 3200}, {"81D", 3700, 3200},
                          {"81EF", 3850, 3200}, {"82", 3100, 3200},  {"82A", 3000, 3200}, {"82B", 2900, 3200}, {"82C", 2800, 3200}};
    for (const Pair& pair : pairs) {
        INFO(pair.filter);
        REQUIRE(filter_by_name(pair.filter));
        CHECK(*filter_by_name(pair.filter) == Approx(1e6 / pair.to - 1e6 / pair.from).margin(0.7));
    }
    CHECK(filter_by_name("85") == 112.0);  // 5500 K to 3400 K: positive, as it warms
}

TEST_CASE("every filter offered is one that is understood") {
    for (const std::string& name : filter_names()) CHECK(filter_by_name(name));
    for (const std::string& name : light_names()) CHECK(light_by_name(name));
}

TEST_CASE("filters are understood as people write them") {
    CHECK(filter_by_name("85b") == 131.0);
    CHECK(filter_by_name(" 80 A ") == -131.0);
    CHECK(filter_by_name("85N6") == 112.0);  // with neutral density, which shifts nothing
    CHECK(filter_by_name("85BN9") == 131.0);
    CHECK(filter_by_name("85B + 81A") == 149.0);  // shifts add, by their definition
    CHECK(filter_by_name("85B+82") == 121.0);
    CHECK(filter_by_name("KR 1.5") == 15.0);  // tenths of the shift
    CHECK(filter_by_name("kb12") == -120.0);
    CHECK(filter_by_name("LBA-8") == 80.0);
    CHECK(filter_by_name("LBB-4") == -40.0);
    CHECK(filter_by_name("none") == 0.0);
}

TEST_CASE("what is no filter is not taken for one") {
    for (const char* name : {"", "85D", "86", "yellow", "KR", "KR-", "KR 1e3", "KR 99", "85B+", "+85B", "85B++81A", "N6", "85N12", "KR nan"}) {
        INFO(name);
        CHECK_FALSE(filter_by_name(name));
    }
}

TEST_CASE("lights have the colour temperature of the illuminant they stand for") {
    // CIE 15:2004, tables T.1 and T.5 and text (from memory): D55 5503 K, D65 6504 K, D75 7504 K, A 2856 K, FL2 4230 K.
    // Tolerance: 5 K, as film makers round.
    CHECK(light_by_name("daylight")->value() == Approx(5503).margin(5));
    CHECK(light_by_name("overcast")->value() == Approx(6504).margin(5));
    CHECK(light_by_name("shade")->value() == Approx(7504).margin(5));
    CHECK(light_by_name("household")->value() == Approx(2856).margin(5));
    CHECK(light_by_name("fluorescent")->value() == Approx(4230).margin(5));
    CHECK(light_by_name(" Tungsten ") == Kelvin(3200));  // studio lamps; common practice, no source
    CHECK(light_by_name("flash") == Kelvin(5500));       // common practice, no source
    CHECK_FALSE(light_by_name("moon"));
    CHECK_FALSE(light_by_name(""));
}
