// SPDX-License-Identifier: GPL-3.0-or-later
// How positives are wanted: in ledgers, and in settings files, which are also written.
#include "basefog/ledger/read_ledger.h"
#include "basefog/ledger/settings_file.h"

#include <catch2/catch.hpp>
#include <fstream>
#include <iterator>

using namespace basefog;
using By = BalanceChoice::By;

namespace {

Settings parsed(const std::string& text) {
    auto settings = parse_settings(text, "folder/settings.toml");
    INFO((settings ? std::string() : describe(settings.error())));
    REQUIRE(settings);
    return std::move(*settings);
}
std::string problems(const std::string& text) {
    const auto settings = parse_settings(text, "settings.toml");
    return settings ? std::string() : describe(settings.error());
}
std::string ledger_problems(const std::string& print) {
    const auto ledger = parse_ledger("[roll.R1]\nprint = " + print + "\n", "l.toml");
    return ledger ? std::string() : describe(ledger.error());
}

}  // namespace

TEST_CASE("settings are read: output, print, rolls and frames") {
    const Settings s = parsed(R"([output]
profile = "paper.icc"
icc_version = 2
compression = "LZW"
density = true
[print]
exposure = 0.5
black_point = -6
[roll.R1]
print = { balance = { frame = 3, patch = [0.1, 0.2, 0.3, 0.4] }, contrast = 1.1 }
frames = [ { number = 5, print = { balance = "frame", saturation = 0 } }, { number = 6, print = { balance = [0.5, 0, -1] } } ]
[roll."winter 2"]
print = { balance = "roll" }
)");
    CHECK(s.output == OutputSettings{"folder/paper.icc", 2, "lzw", std::nullopt, true});
    CHECK(s.print == PrintChoices{{}, Stops(0.5), {}, Stops(-6), {}});
    REQUIRE(s.rolls.size() == 2);
    CHECK(s.rolls[0].print == PrintChoices{BalanceChoice{By::patch, {0.1, 0.2, 0.3, 0.4}, 3, {}}, {}, 1.1, {}, {}});
    REQUIRE(s.rolls[0].frames.size() == 2);
    CHECK(s.rolls[0].frames[0].print == PrintChoices{BalanceChoice{By::frame, {}, {}, {}}, {}, {}, {}, 0.0});
    CHECK(s.rolls[0].frames[1].print.balance == BalanceChoice{By::numbers, {}, {}, {Stops(0.5), Stops(0), Stops(-1)}});
    CHECK(s.rolls[1] == RollPrintChoices{"winter 2", {BalanceChoice{}, {}, {}, {}, {}}, {}});
    CHECK(parsed("") == Settings{"folder/settings.toml", {}, {}, {}});
    CHECK(parsed("[output]\nprofile = \"wide\"").output.profile == "wide");  // a name, not a file
}

TEST_CASE("the same keys in a ledger, for a roll and its frames") {
    const auto ledger =
        parse_ledger("[roll.R1]\nprint = { exposure = 1 }\nframes = [ { number = 2, print = { balance = { patch = [0, 0, 1, 0.5] } } } ]", "l.toml");
    REQUIRE(ledger);
    CHECK(ledger->rolls[0].print == PrintChoices{{}, Stops(1), {}, {}, {}});
    CHECK(ledger->rolls[0].frames[0].print.balance == BalanceChoice{By::patch, {0, 0, 1, 0.5}, {}, {}});
}

TEST_CASE("the nearer choice holds, key by key") {
    const PrintValues run = overlaid(PrintValues{}, {{}, Stops(1), 1.2, {}, {}}), roll = overlaid(run, {{}, Stops(0.5), {}, Stops(-5), {}});
    CHECK(roll.exposure == Stops(0.5));
    CHECK(roll.contrast == 1.2);
    CHECK(roll.black_point == Stops(-5));
    CHECK(roll.saturation == 1);
    CHECK(roll.balance == BalanceChoice{});
}

TEST_CASE("what is written reads back to the last digit") {
    Settings s;
    s.path = "settings.toml";
    s.output = {"wide", 2, "zstd", false, true};
    s.print = {BalanceChoice{}, Stops(1.0 / 3), 1.1, Stops(-7), 0.1 + 0.2};
    s.rolls = {{"R1", {BalanceChoice{By::numbers, {}, {}, {Stops(0.1), Stops(1e-9), Stops(-2.0 / 3)}}, {}, {}, {}, {}}, {}},
               {"winter \"2\"", {}, {{0, {BalanceChoice{By::patch, {0.1, 0.25, 1.0 / 3, 1}, 7, {}}, Stops(-0.0), {}, {}, {}}}, {12, {}}}}};
    const std::string text = settings_text(s, {"basefog invert", "again"});
    CHECK(text.rfind("# basefog invert\n# again\n", 0) == 0);
    const auto back = parse_settings(text, "settings.toml");
    INFO(text << (back ? std::string() : describe(back.error())));
    REQUIRE(back);
    CHECK(*back == s);
}

TEST_CASE("slips in settings are told with line, key and remedy") {
    using Catch::Contains;
    CHECK_THAT(problems("[print]\nexposure = 40"), Contains("line 2") && Contains("exposure") && Contains("outside -10 to 10 stops"));
    CHECK_THAT(problems("[print]\nexposur = 1"), Contains("did you mean \"exposure\""));
    CHECK_THAT(problems("[print]\ncontrast = \"1.2\""), Contains("must be a number") && Contains("contrast = 1.2"));
    CHECK_THAT(problems("[print]\nblack_point = 0"), Contains("outside -14 to -2"));
    CHECK_THAT(problems("[print]\nsaturation = nan"), Contains("saturation"));
    CHECK_THAT(problems("[print]\nbalance = \"grey\""), Contains("\"roll\", \"frame\""));
    CHECK_THAT(problems("[print]\nbalance = 3"), Contains("must be"));
    CHECK_THAT(problems("[print]\nbalance = [1, 2]"), Contains("holds 2 values"));
    CHECK_THAT(problems("[print]\nbalance = [1, 2, \"x\"]"), Contains("must be a number"));
    CHECK_THAT(problems("[print]\nbalance = { patch = [0, 0, 1, 1] }"), Contains("no frame"));
    CHECK_THAT(problems("[roll.R1]\nprint = { balance = { patch = [0, 0, 1, 1] } }"), Contains("no frame") && Contains("frame = 3"));
    CHECK_THAT(problems("[roll.R1]\nframes = [ { number = 1, print = { balance = { patch = [0.5, 0, 0.4, 1] } } } ]"), Contains("turned about"));
    CHECK_THAT(problems("[roll.R1]\nframes = [ { number = 1, print = { balance = { patch = [0, 0, 40, 1] } } } ]"), Contains("outside 0 to 1"));
    CHECK_THAT(problems("[roll.R1]\nframes = [ { number = 1, print = { balance = { frame = 2 } } } ]"), Contains("has no \"patch\""));
    CHECK_THAT(problems("[roll.R1]\nframes = [ { print = { exposure = 1 } } ]"), Contains("has no \"number\""));
    CHECK_THAT(problems("[roll.R1]\nframes = [ { number = 1 }, { number = 1 } ]"), Contains("stands twice"));
    CHECK_THAT(problems("[roll.R1]\nframes = [ 1 ]"), Contains("must be a table"));
    CHECK_THAT(problems("[roll.R1]\nstock = \"t500\""), Contains("unknown key \"stock\""));
    CHECK_THAT(problems("[roll]\nR1 = 1"), Contains("must be a table"));
    CHECK_THAT(problems("[output]\nicc_version = 3"), Contains("write 2 or 4"));
    CHECK_THAT(problems("[output]\ncompression = \"zip\""), Contains("compression") && Contains("deflate"));
    CHECK_THAT(problems("[output]\nlinear = 1"), Contains("true or false"));
    CHECK_THAT(problems("[outputs]"), Contains("did you mean \"output\""));
    CHECK_THAT(problems("print = ["), Contains("line 1"));
    CHECK_THAT(ledger_problems("{ exposure = \"1\" }"), Contains("the print of roll") && Contains("line 2"));
    CHECK_THAT(ledger_problems("{ balance = { patch = [0, 0, 1, 1] } }"), Contains("no frame"));
    CHECK_THAT(ledger_problems("1"), Contains("must be a table"));
    CHECK(read_settings("no/such.toml").error().code == ErrorCode::not_found);
}

TEST_CASE("the settings' page: its example is read, and it names every key") {
    std::ifstream in(std::string(BASEFOG_SOURCE_DIR) + "/docs/settings.md");
    const std::string page{std::istreambuf_iterator<char>(in), {}};
    const std::string fence = "```toml\n";
    const std::size_t begin = page.find(fence);
    REQUIRE(begin != std::string::npos);
    const Settings s = parsed(page.substr(begin + fence.size(), page.find("```", begin + fence.size()) - begin - fence.size()));
    CHECK(s.output.linear == true);
    REQUIRE(s.rolls.size() == 1);
    CHECK(s.rolls[0].frames.size() == 2);
    for (const char* key : {"profile", "icc_version", "compression", "linear", "density", "balance", "exposure", "contrast", "black_point", "saturation"})
        CHECK_THAT(page, Catch::Contains("`" + std::string(key) + "`"));
}
