// SPDX-License-Identifier: GPL-3.0-or-later
// Counts worked out by hand.
#include "basefog/ledger/read_ledger.h"

#include <catch2/catch.hpp>

using namespace basefog;

namespace {
Ledger parsed(const std::string& text) {
    const auto ledger = parse_ledger(text, "l.toml");
    INFO((ledger ? std::string() : describe(ledger.error())));
    REQUIRE(ledger);
    return *ledger;
}
// Bath a: 10 March (2 rolls), then 12 March (1), then 20 March (2); bath b once, on 15 March. Written out of order.
const char* const kText = R"(
[bath.a]
mixed_on = 2026-02-27
[bath.b]
[session.last]
date = 2026-03-20
bath = "a"
[session.first]
date = 2026-03-10
bath = "a"
[session.other]
date = 2026-03-15
bath = "b"
[session.middle]
date = 2026-03-12
bath = "a"
[session.no-bath]
date = 2026-03-01
[roll.L1]
session = "last"
[roll.F1]
session = "first"
[roll.M1]
session = "middle"
[roll.F2]
session = "first"
[roll.O1]
session = "other"
[roll.L2]
session = "last"
[roll.N1]
session = "no-bath"
[roll.loose]
)";
}  // namespace

TEST_CASE("rolls a bath had done follow the sessions' dates, not the order of writing") {
    const Ledger ledger = parsed(kText);
    CHECK(rolls_done_before(ledger, "F1") == 0);
    CHECK(rolls_done_before(ledger, "F2") == 0);  // with F1, not after it
    CHECK(rolls_done_before(ledger, "M1") == 2);
    CHECK(rolls_done_before(ledger, "L1") == 3);
    CHECK(rolls_done_before(ledger, "L2") == 3);
    CHECK(rolls_done_before(ledger, "O1") == 0);  // another bath
}

TEST_CASE("a bath's count is unknown without a bath, a session or the roll") {
    const Ledger ledger = parsed(kText);
    CHECK_FALSE(rolls_done_before(ledger, "N1"));
    CHECK_FALSE(rolls_done_before(ledger, "loose"));
    CHECK_FALSE(rolls_done_before(ledger, "absent"));
}

TEST_CASE("a bath's age in days runs over the month's end") {
    const Ledger ledger = parsed(kText);
    CHECK(bath_age_days(ledger, "F1") == 11);  // 27 February to 10 March 2026: 1 day left in February (28), then 10
    CHECK(bath_age_days(ledger, "L1") == 21);
    CHECK_FALSE(bath_age_days(ledger, "O1"));  // bath b has no date
    CHECK_FALSE(bath_age_days(ledger, "N1"));
    CHECK_FALSE(bath_age_days(ledger, "absent"));
    // A leap year: 28 February to 1 March 2024 is two days.
    CHECK(bath_age_days(parsed("[bath.a]\nmixed_on = 2024-02-28\n[session.s]\nbath = \"a\"\ndate = 2024-03-01\n[roll.r]\nsession = \"s\"\n"), "r") == 2);
}

TEST_CASE("sessions of one day, or without a date, come in the order they were written") {
    const std::string same =
        "[bath.a]\n[session.z]\nbath = \"a\"\ndate = 2026-03-10\n[session.b]\nbath = \"a\"\ndate = 2026-03-10\n"
        "[roll.r1]\nsession = \"z\"\n[roll.r2]\nsession = \"b\"\n[roll.r3]\nsession = \"z\"\n";
    CHECK(rolls_done_before(parsed(same), "r1") == 0);
    CHECK(rolls_done_before(parsed(same), "r2") == 2);
    const std::string undated = "[bath.a]\n[session.z]\nbath = \"a\"\n[session.b]\nbath = \"a\"\n[roll.r1]\nsession = \"b\"\n[roll.r2]\nsession = \"z\"\n";
    CHECK(rolls_done_before(parsed(undated), "r1") == 1);
    CHECK(rolls_done_before(parsed(undated), "r2") == 0);
}
