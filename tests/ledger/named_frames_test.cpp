// SPDX-License-Identifier: GPL-3.0-or-later
// What is noted of single frames.
#include "basefog/ledger/read_ledger.h"

#include <catch2/catch.hpp>

using namespace basefog;

namespace {

std::string problems(const std::string& frames) {
    const auto ledger = parse_ledger("[roll.R1]\nframes = " + frames + "\n", "l.toml");
    return ledger ? std::string() : describe(ledger.error());
}

}  // namespace

TEST_CASE("named frames are read, inline or as tables of their own") {
    const auto inlined = parse_ledger(R"([roll.R1]
frames = [ { number = 1, kind = "step wedge" }, { number = 2, kind = "Gray-Card", stops = 0.5 }, { number = 0, kind = "colour chart" }, { number = 8, stops = -1, light = "household" } ]
)",
                                      "l.toml");
    INFO((inlined ? std::string() : describe(inlined.error())));
    REQUIRE(inlined);
    const std::vector<NamedFrame> wanted{{1, FrameSubject::step_wedge, 0.15, {}, {}},
                                         {2, FrameSubject::grey_card, 0, Stops(0.5), {}},
                                         {0, FrameSubject::colour_chart, 0, {}, {}},
                                         {8, FrameSubject::picture, 0, Stops(-1), Kelvin(2856)}};
    CHECK(inlined->rolls[0].frames == wanted);
    const auto tables = parse_ledger("[[roll.R1.frames]]\nnumber = 3\nkind = \"step wedge\"\nstep = 0.2\n[[roll.R1.frames]]\nnumber = 4\n", "l.toml");
    REQUIRE(tables);
    CHECK(tables->rolls[0].frames == std::vector<NamedFrame>{{3, FrameSubject::step_wedge, 0.2, {}, {}}, {4, FrameSubject::picture, 0, {}, {}}});
}

TEST_CASE("slips in named frames are told") {
    using Catch::Contains;
    CHECK_THAT(problems("[ { kind = \"step wedge\" } ]"), Contains("number"));
    CHECK_THAT(problems("[ { number = 1, kind = \"step wegde\" } ]"), Contains("did you mean \"step wedge\""));
    CHECK_THAT(problems("[ { number = 1, kind = \"grey card\", step = 0.15 } ]"), Contains("is no step wedge"));
    CHECK_THAT(problems("[ { number = 1, kind = \"step wedge\", step = 15 } ]"), Contains("outside"));
    CHECK_THAT(problems("[ { number = 1, stops = 40 } ]"), Contains("outside"));
    CHECK_THAT(problems("[ { number = 1, light = \"moon\" } ]"), Contains("names no light"));
    CHECK_THAT(problems("[ { number = 1, light = 200 } ]"), Contains("outside"));
    CHECK_THAT(problems("[ { number = 1 }, { number = 1 } ]"), Contains("stands twice"));
    CHECK_THAT(problems("[ { number = 1, stop = 1 } ]"), Contains("unknown key"));
    CHECK_THAT(problems("[ 1, 2 ]"), Contains("must be a table"));
    CHECK_THAT(problems("3"), Contains("frames"));
}
