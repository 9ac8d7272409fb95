// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/ledger/read_ledger.h"

#include "checks.h"
#include "support/temporary_folder.h"

#include <filesystem>
#include <fstream>

using namespace basefog;
using ledger_checks::replaced;

namespace {

Date day(int y, unsigned m, unsigned d) { return Date{std::chrono::year(y), std::chrono::month(m), std::chrono::day(d)}; }
Ledger parsed(const std::string& text, const std::string& path = "folder/ledger.toml") {
    const auto ledger = parse_ledger(text, path);
    INFO((ledger ? std::string() : describe(ledger.error())));
    REQUIRE(ledger);
    return *ledger;
}

}  // namespace

TEST_CASE("the template reads back, with every field filled as it says") {
    const Ledger ledger = parsed(ledger_template());
    CHECK(ledger.path == "folder/ledger.toml");
    REQUIRE(ledger.stocks.size() == 2);
    CHECK(ledger.stocks[0] == Stock{"t500", StockKind::colour_negative, 500, Kelvin(3200), "ECN-2", day(2014, 6, 30)});
    CHECK(ledger.stocks[1] == Stock{"pan100", StockKind::black_and_white, 100, std::nullopt, "", day(2027, 12, 31)});
    REQUIRE(ledger.baths.size() == 1);
    CHECK(ledger.baths[0] == Bath{"dev-a", "stills colour developer, 1 litre kit", 1.0, day(2026, 3, 1), 12});
    REQUIRE(ledger.sessions.size() == 2);
    CHECK(ledger.sessions[0] ==
          Session{"march-14", day(2026, 3, 14), "dev-a", BackingWash{"sodium carbonate", 10, Celsius(40), 2, 4}, 3.25, Celsius(38), "C-41"});
    CHECK(ledger.sessions[1] == Session{"march-21", day(2026, 3, 21), "dev-a", BackingWash{"borax", 20, Celsius(38), 1, 6}, 3.5, Celsius(38), "C-41"});
    REQUIRE(ledger.rolls.size() == 3);
    CHECK(ledger.rolls[0] == Roll{"R1",
                                  "t500",
                                  "march-14",
                                  200,
                                  Kelvin(5500),
                                  131,
                                  "two-reel tank",
                                  1,
                                  "Harbour in the morning; last frames with the back opened by mistake.",
                                  {{1, FrameSubject::step_wedge, 0.15, {}, {}},
                                   {2, FrameSubject::grey_card, 0, {}, {}},
                                   {5, FrameSubject::picture, 0, Stops(-1), {}},
                                   {6, FrameSubject::picture, 0, Stops(1.5), {}, {BalanceChoice{BalanceChoice::By::frame, {}, {}, {}}, Stops(-0.5), {}, {}, {}}}},
                                  {{}, Stops(0.3), 1.1, Stops(-6), 0.9}});
    CHECK(ledger.rolls[1] == Roll{"R2", "t500", "march-14", 125, Kelvin(6500), 0, "two-reel tank", 2, "", {}});  // its session's tank
    CHECK(ledger.rolls[2] == Roll{"R3", "t500", "march-21", 250, Kelvin(2900), -10, "", 1, "", {}});
    REQUIRE(ledger.sheets.size() == 2);
    const Sheet first{"scans/sheet-01.tif",
                      "folder/scans/sheet-01.tif",
                      "folder/scans/sheet-01-infrared.tif",
                      "linear",
                      3200,
                      FrameFormat::full,
                      {{"R1", 1}, {"R1", 7}, {"R2", 1, {}, true}, {"R2", 7, true, {}}}};
    CHECK(ledger.sheets[0] == first);
    CHECK(ledger.sheets[1] == Sheet{"scans/sheet-02.tif", "folder/scans/sheet-02.tif", "", "", std::nullopt, std::nullopt, {{"R3", 1}, {"R3", 7}}});
}

TEST_CASE("the template cautions where it names chemicals") {
    const std::string text = ledger_template();
    for (const char* word : {"gloves", "eye protection", "safety data sheet", "local rules", "sludge"}) CHECK_THAT(text, Catch::Contains(word));
}

TEST_CASE("the template reads the same from Windows, with a byte order mark, and without its last line end") {
    const Ledger plain = parsed(ledger_template());
    std::string windows;
    for (const char c : ledger_template()) windows += c == '\n' ? std::string("\r\n") : std::string(1, c);
    std::string cut = ledger_template();
    cut.pop_back();
    for (const std::string& text : {windows, "\xEF\xBB\xBF" + ledger_template(), "\xEF\xBB\xBF" + windows, cut}) {
        const Ledger other = parsed(text);
        CHECK(other.stocks == plain.stocks);
        CHECK(other.baths == plain.baths);
        CHECK(other.sessions == plain.sessions);
        CHECK(other.rolls == plain.rolls);
        CHECK(other.sheets == plain.sheets);
    }
}

TEST_CASE("an empty ledger is a ledger") {
    const Ledger ledger = parsed("");
    CHECK((ledger.stocks.empty() && ledger.baths.empty() && ledger.sessions.empty() && ledger.rolls.empty() && ledger.sheets.empty()));
}

TEST_CASE("entries keep the order they were written in, whatever their names and headings") {
    const Ledger ledger =
        parsed("[roll.zebra]\n[roll.\"10\"]\n[roll]\nants.rating = 50\n[roll.\"9\"]\n[session.b.wash]\nagent = \"soda\"\n[session.a]\n[session.b]\n");
    REQUIRE(ledger.rolls.size() == 4);
    CHECK(ledger.rolls[0].id == "zebra");
    CHECK(ledger.rolls[1].id == "10");
    CHECK(ledger.rolls[2].id == "ants");
    CHECK(ledger.rolls[2].rating == 50.0);
    CHECK(ledger.rolls[3].id == "9");
    REQUIRE(ledger.sessions.size() == 2);
    CHECK(ledger.sessions[0].id == "b");
    CHECK(ledger.sessions[0].wash->agent == "soda");
}

TEST_CASE("names in other scripts, with slashes and spaces, are names") {
    const Ledger ledger =
        parsed("[stock.\"夜景 500/T\"]\n[roll.\"Été №2\"]\nstock = \"夜景 500/T\"\n[[sheet]]\nfile = \"Фото/лист.tif\"\nstrips = [{roll = \"Été №2\"}]\n");
    CHECK(ledger.find_stock("夜景 500/T"));
    REQUIRE(ledger.find_roll("Été №2"));
    CHECK(ledger.find_roll("Été №2")->stock == "夜景 500/T");
    CHECK(ledger.sheets.at(0).path == "folder/Фото/лист.tif");
    CHECK(ledger.sheets[0].strips.at(0).roll == "Été №2");
    CHECK_FALSE(ledger.find_roll("Ete №2"));
    CHECK_FALSE(ledger.find_bath("夜景 500/T"));
}

TEST_CASE("dates are taken as TOML dates and as ISO 8601 text") {
    const auto mixed = [](const std::string& value) { return parsed("[bath.a]\nmixed_on = " + value).baths.at(0).mixed_on; };
    CHECK(mixed("2026-03-01") == day(2026, 3, 1));
    CHECK(mixed("\"2026-03-01\"") == day(2026, 3, 1));
    CHECK(mixed("2024-02-29") == day(2024, 2, 29));
    const auto expiry = [](const std::string& value) { return parsed("[stock.a]\nexpiry = " + value).stocks.at(0).expiry; };
    CHECK(expiry("2012-02-10") == day(2012, 2, 10));
    CHECK(expiry("\"2012-02\"") == day(2012, 2, 29));  // a leap year's February
    CHECK(expiry("\"2100-02\"") == day(2100, 2, 28));  // not a leap year [ISO 8601: Gregorian calendar]
    CHECK(expiry("1999") == day(1999, 12, 31));
    CHECK(expiry("\"1999\"") == day(1999, 12, 31));
    CHECK(to_string(day(2026, 3, 4)) == "2026-03-04");
}

TEST_CASE("spellings that mean the same are taken") {
    CHECK(parsed("[stock.a]\nkind = \"Color Negative\"").stocks[0].kind == StockKind::colour_negative);
    CHECK(parsed("[stock.a]\nkind = \"black-and-white\"").stocks[0].kind == StockKind::black_and_white);
    CHECK(parsed("[session.a]\ndeveloper_minutes = \"3:15\"").sessions[0].developer_minutes == 3.25);
    CHECK(parsed("[session.a.wash]\nsoak_minutes = \"0:30\"\nrinses = 4.0").sessions[0].wash == BackingWash{"", std::nullopt, std::nullopt, 0.5, 4});
    CHECK(parsed("[[sheet]]\nfile = \"a\"\nencoding = 2.2").sheets[0].encoding == "2.2");
    CHECK(parsed("[[sheet]]\nfile = \"a\"\nencoding = \"2.2\"").sheets[0].encoding == "2.2");
    CHECK(parsed("[[sheet]]\nfile = \"a\"\nencoding = \"sRGB\"").sheets[0].encoding == "srgb");
    CHECK(parsed("[roll.a]\nstock = \"\"\nsession = \"\"\nlight = \"\"\nfilter = \"\"").rolls[0] ==
          Roll{"a", "", "", std::nullopt, std::nullopt, 0, "", std::nullopt, "", {}});
}

TEST_CASE("sheets are looked for from the ledger's folder") {
    CHECK(parsed("[[sheet]]\nfile = \"../b/c.tif\"", "/film/2026/ledger.toml").sheets[0].path == "/film/b/c.tif");
    CHECK(parsed("[[sheet]]\nfile = \"/b/c.tif\"", "/film/ledger.toml").sheets[0].path == "/b/c.tif");
    CHECK(parsed("[[sheet]]\nfile = \"./c.tif\"", "ledger.toml").sheets[0].path == "c.tif");
    CHECK(parsed("[[sheet]]\nfile = \"./c.tif\"", "ledger.toml").sheets[0].file == "./c.tif");
}

TEST_CASE("a ledger is read from a file, while a missing one, a folder and one too large are told apart") {
    const TemporaryFolder scratch;
    const std::filesystem::path folder = scratch.path();
    const std::string path = (folder / "ledger.toml").string();
    std::ofstream(path) << ledger_template();
    const auto ledger = read_ledger(path);
    REQUIRE(ledger);
    CHECK(ledger->sheets.at(0).path == (folder / "scans/sheet-01.tif").string());

    std::ofstream(path, std::ios::trunc) << std::string(4 * 1024 * 1024 + 1, '#');
    const auto large = read_ledger(path);
    REQUIRE_FALSE(large);
    CHECK(large.error().code == ErrorCode::too_large);
    CHECK(large.error().path == path);

    const auto directory = read_ledger(folder.string());
    REQUIRE_FALSE(directory);
    CHECK(directory.error().code == ErrorCode::unreadable);

    std::filesystem::remove_all(folder);
    const auto missing = read_ledger(path);
    REQUIRE_FALSE(missing);
    CHECK(missing.error().code == ErrorCode::not_found);
    CHECK(missing.error().path == path);
}
