// SPDX-License-Identifier: GPL-3.0-or-later
// Each kind of mistake: exact line and column, what is wrong, what would be right.
#include "basefog/ledger/read_ledger.h"

#include "checks.h"

using namespace basefog;
using ledger_checks::must_say;

namespace {

const std::string kPath = "my ledger.toml";

struct Mistake {
    std::string text;
    std::vector<std::string> says;
};
void check(const std::vector<Mistake>& mistakes) {
    for (const Mistake& mistake : mistakes) {
        INFO(mistake.text);
        must_say(parse_ledger(mistake.text, kPath), kPath, mistake.says);
    }
}

}  // namespace

TEST_CASE("unknown keys name the nearest known one, at every level") {
    check({
        {"[stocks.t500]\n", {"line 1, column 2: unknown key \"stocks\" in the ledger", "did you mean \"stock\"?"}},
        {"[stock.t500]\nbox_sped = 500\n", {"line 2, column 1: unknown key \"box_sped\" in stock \"t500\"", "did you mean \"box_speed\"?"}},
        {"[bath.a]\n  Volume = 1\n", {"line 2, column 3: unknown key \"Volume\" in bath \"a\"", "did you mean \"volume_litres\"?"}},
        {"[session.s]\ndeveloper_mintues = 3\n", {"line 2, column 1: unknown key \"developer_mintues\"", "did you mean \"developer_minutes\"?"}},
        {"[session.s]\nwash = { soak = 2 }\n", {"line 2, column 10: unknown key \"soak\" in the wash of session \"s\"", "did you mean \"soak_minutes\"?"}},
        {"[roll.\"R 1\"]\n\nrateing = 2\n", {"line 3, column 1: unknown key \"rateing\" in roll \"R 1\"", "did you mean \"rating\"?"}},
        {"[[sheet]]\nfile = \"a\"\nstrips = [\n  { rol = \"R1\" },\n]\n[roll.R1]\n",
         {"line 4, column 5: unknown key \"rol\" in strip 1 of sheet 1", "did you mean \"roll\"?"}},
        {"[[sheet]]\nfile = \"a\"\ninfared = \"b\"\n", {"line 3, column 1: unknown key \"infared\" in sheet 1", "did you mean \"infrared\"?"}},
        {"[stock.a]\niso = 100\n", {"line 2, column 1: unknown key \"iso\"", "known keys, nearest first:", "\"box_speed\"", "\"expiry\""}},
    });
}

TEST_CASE("values of the wrong type say what they are and what is wanted") {
    check({
        {"[stock.a]\nbox_speed = \"500\"\n", {"line 2, column 13: \"box_speed\" of stock \"a\" is text, but must be a number; for example box_speed = 500"}},
        {"[stock.a]\nbox_speed = \"fast\"\n", {"line 2, column 13", "is text, but must be a number; for example box_speed = 200"}},
        {"[stock.a]\nbalance = true\n", {"line 2, column 11", "is true or false, but must be a light in quotes or a number of kelvin"}},
        {"[stock.a]\nown_process = 41\n", {"line 2, column 15", "is a number, but must be text in quotes; for example own_process = \"ECN-2\""}},
        {"[bath.a]\nmixed_on = 20260301\n", {"line 2, column 12", "is a number, but must be a date; for example mixed_on = 2026-03-14"}},
        {"[bath.a]\nmixed_on = 2026-03-01T10:00:00\n", {"line 2, column 12", "is a date with a time, but must be a date"}},
        {"[bath.a]\ngood_for_rolls = 2.5\n", {"line 2, column 18", "is 2.5, but must be a whole number; for example good_for_rolls = 12"}},
        {"[session.a]\nwash = \"soda\"\n", {"line 2, column 8: \"wash\" of session \"a\" is text, but must be a table", "wash = { agent ="}},
        {"[session.a]\ndeveloper_minutes = 03:15:00\n", {"line 2, column 21", "is a time of day, but must be a number; for example developer_minutes = 3.25"}},
        {"[roll.a]\nfilter = [81]\n", {"line 2, column 10", "is a list, but must be a filter in quotes or a number of mired"}},
        {"[roll.a]\nnote = 3\n", {"line 2, column 8", "is a number, but must be text in quotes"}},
        {"roll = 3\n", {"line 1, column 8: \"roll\" of the ledger is a number, but must be a table; for example [roll.NAME]"}},
        {"[roll]\nR1 = 3\n", {"line 2, column 1: roll \"R1\" is a number, but must be a table", "write [roll.NAME] on a line of its own"}},
        {"[sheet]\nfile = \"a\"\n", {"line 1, column 1: \"sheet\" is a table, but must be a list of tables; write [[sheet]], in double brackets"}},
        {"sheet = [3]\n", {"line 1, column 10: sheet 1 is a number, but must be a table"}},
        {"[[sheet]]\nfile = \"a\"\nstrips = \"R1\"\n",
         {"line 3, column 10: \"strips\" of sheet 1 is text, but must be a list; for example strips = [ { roll = \"R1\", first = 1 } ]"}},
        {"[[sheet]]\nfile = \"a\"\nstrips = [ \"R1\" ]\n", {"line 3, column 12: strip 1 of sheet 1 is text, but must be a table"}},
        {"[roll.R]\n[[sheet]]\nfile = \"a\"\nstrips = [ { roll = \"R\", flip = 1 } ]\n",
         {"line 4, column 33: \"flip\" of strip 1 of sheet 1 is a number, but must be true or false; for example flip = true"}},
        {"[[sheet]]\nfile = \"a\"\nencoding = true\n", {"line 3, column 12", "is true or false, but must be \"linear\", \"srgb\" or a gamma number"}},
    });
}

TEST_CASE("what must be there is asked for") {
    check({
        {"[[sheet]]\ndpi = 3200\n", {"line 1, column 1: sheet 1 has no \"file\"; add, for example, file = \"scans/sheet-01.tif\""}},
        {"[[sheet]]\nfile = \"\"\n", {"line 2, column 8: \"file\" of sheet 1 is empty"}},
        {"[[sheet]]\nfile = \"a\"\nstrips = [ { first = 3 } ]\n", {"line 3, column 12: strip 1 of sheet 1 has no \"roll\"; add, for example, roll = \"R1\""}},
    });
}

TEST_CASE("numbers out of range give the range, and temperatures in Fahrenheit their Celsius") {
    check({
        {"[stock.a]\nbox_speed = -500\n", {"line 2, column 13", "is -500, outside 0.1 to 102400"}},
        {"[roll.a]\nrating = 0\n", {"line 2, column 10", "\"rating\" of roll \"a\" is 0, outside 0.1 to 102400"}},
        {"[roll.a]\nrating = nan\n", {"line 2, column 10", "is nan, outside"}},
        {"[roll.a]\nrating = inf\n", {"line 2, column 10", "is inf, outside"}},
        {"[roll.a]\nlight = 55\n", {"line 2, column 9", "is 55, outside 1500 to 25000 K"}},
        {"[roll.a]\nfilter = 3200\n", {"line 2, column 10", "is 3200, outside -300 to 300 mired"}},
        {"[roll.a]\nfilter = \"85B+85B+85B\"\n", {"line 2, column 10", "adds up to 393 mired, outside -300 to 300"}},
        {"[roll.a]\nreel = 0\n", {"line 2, column 8", "is 0, outside 1 to 20"}},
        {"[session.a]\ndeveloper_temperature_c = 100\n", {"line 2, column 27", "is 100, outside 10 to 60 °C; 100 °F would be 37.8 °C"}},
        {"[session.a.wash]\ntemperature_c = -1\n", {"line 2, column 17", "is -1, outside 0 to 60 °C; for example temperature_c = 40"}},
        {"[session.a]\ndeveloper_minutes = \"200:00\"\n", {"line 2, column 21", "is \"200:00\", outside 0.1 to 120 minutes"}},
        {"[bath.a]\nvolume_litres = 0\n", {"line 2, column 17", "outside 0.05 to 1000 litres"}},
        {"[[sheet]]\nfile = \"a\"\ndpi = 3\n", {"line 3, column 7", "is 3, outside 72 to 20000 dpi"}},
        {"[[sheet]]\nfile = \"a\"\nformat = \"24x36\"\n", {"line 3, column 10", "is \"24x36\"", "write \"36x24\", \"18x24\""}},
        {"[[sheet]]\nfile = \"a\"\nencoding = 9\n", {"line 3, column 12", "is 9, outside 0.3 to 4"}},
        {"[roll.R]\n[[sheet]]\nfile = \"a\"\nstrips = [ { roll = \"R\", first = 1000 } ]\n", {"line 4, column 34", "is 1000, outside 0 to 999"}},
    });
}

TEST_CASE("words and dates that mean nothing offer what does") {
    check({
        {"[stock.a]\nkind = \"slide\"\n", {"line 2, column 8: \"kind\" of stock \"a\" is \"slide\"; write \"colour negative\" or \"black and white\""}},
        {"[stock.a]\nbalance = \"tungstn\"\n", {"line 2, column 11", "names no light; did you mean \"tungsten\"?", "balance = 4000"}},
        {"[roll.a]\nfilter = \"82D\"\n", {"line 2, column 10", "is \"82D\", which names no known filter; did you mean \"82", "filter = 131"}},
        {"[bath.a]\nmixed_on = \"2026-02-30\"\n", {"line 2, column 12", "is \"2026-02-30\", which is not a date in the calendar", "mixed_on = 2026-03-14"}},
        {"[bath.a]\nmixed_on = \"14.03.2026\"\n", {"line 2, column 12", "year-month-day"}},
        {"[bath.a]\nmixed_on = \"2026-03\"\n", {"line 2, column 12", "is not a date in the calendar"}},
        {"[bath.a]\nmixed_on = 0026-03-01\n", {"line 2, column 12", "is not between the years 1900 and 2199"}},
        {"[stock.a]\nexpiry = \"2014-13\"\n", {"line 2, column 10", "is not a date, a month or a year in the calendar"}},
        {"[stock.a]\nexpiry = 14\n", {"line 2, column 10", "is not between the years 1900 and 2199"}},
        {"[[sheet]]\nfile = \"a\"\nencoding = \"adobe\"\n",
         {"line 3, column 12: \"encoding\" of sheet 1 is \"adobe\"; write \"linear\", \"srgb\" or a gamma number such as 2.2"}},
    });
}

TEST_CASE("references to what the ledger does not hold offer the nearest") {
    check({
        {"[stock.t500]\n[roll.R1]\nstock = \"t5000\"\n",
         {"line 3, column 9: roll \"R1\" names stock \"t5000\", which the ledger does not hold; did you mean \"t500\"?"}},
        {"[bath.dev-a]\n[session.s1]\nbath = \"dev_a\"\n", {"line 3, column 8: session \"s1\" names bath \"dev_a\"", "did you mean \"dev-a\"?"}},
        {"[roll.R1]\nsession = \"s1\"\n", {"line 2, column 11: roll \"R1\" names session \"s1\"", "the ledger holds no session: add [session.\"s1\"]"}},
        {"[roll.R1]\n[roll.R12]\n[[sheet]]\nfile = \"a\"\nstrips = [ { roll = \"R13\" } ]\n",
         {"line 5, column 21: strip 1 of sheet 1 names roll \"R13\"", "did you mean \"R12\"?"}},
        {"[roll.\"summer\"]\n[roll.\"autumn\"]\n[[sheet]]\nfile = \"a\"\nstrips = [ { roll = \"x\" } ]\n",
         {"line 5, column 21", "known rolls, nearest first: \"summer\", \"autumn\""}},
    });
}

TEST_CASE("a session before its bath was mixed, a sheet twice and a strip twice are contradictions") {
    check({
        {"[bath.a]\nmixed_on = 2026-03-05\n[session.s]\ndate = 2026-03-04\nbath = \"a\"\n",
         {"line 4, column 8: session \"s\" is on 2026-03-04, before its bath \"a\" was mixed on 2026-03-05", "correct one of the two dates"}},
        {"[[sheet]]\nfile = \"scans/a.tif\"\n[[sheet]]\nfile = \"./scans/../scans/a.tif\"\n",
         {"line 4, column 8", "is already described at line 2; keep one of the two"}},
        {"[[sheet]]\nfile = \"a.tif\"\ninfrared = \"./a.tif\"\n", {"line 3, column 12: \"infrared\" of sheet 1 is the same file as \"file\""}},
        {"[roll.R]\n[[sheet]]\nfile = \"a\"\nstrips = [ {roll = \"R\", first = 7}, {roll = \"R\", first = 7} ]\n",
         {"line 4, column 37: frame 7 of roll \"R\" already begins the strip at line 4, column 12"}},
    });
    CHECK(parse_ledger("[bath.a]\nmixed_on = 2026-03-05\n[session.s]\ndate = 2026-03-05\nbath = \"a\"\n", kPath));  // the same day is fine
}

TEST_CASE("names that cannot be shown or filed are refused") {
    const std::string longest(80, 'x'), longer(81, 'x');
    CHECK(parse_ledger("[roll." + longest + "]\n", kPath));
    std::string accents;
    for (int i = 0; i < 80; ++i) accents += "é";
    CHECK(parse_ledger("[roll.\"" + accents + "\"]\n", kPath));  // characters are counted, not bytes
    check({
        {"[roll.\"\"]\n", {"line 1, column 7: a roll's name is empty"}},
        {"[roll.\"  \"]\n", {"line 1, column 7: a roll's name is empty"}},
        {"[bath.\" a\"]\n", {"line 1, column 7: a bath's name, \" a\", begins or ends with a space"}},
        {"[roll.\"a\\u001b[2J\"]\n", {"line 1, column 7: a roll's name, \"a<U+001B>[2J\", holds a control character"}},
        {"[roll.\"a\\u202Eb\"]\n", {"a roll's name, \"a<U+202E>b\", holds a control character"}},
        {"[roll." + longer + "]\n", {"line 1, column 7", "is longer than 80 characters"}},
        {"[roll.a]\ntank = \"a\\nb\"\n", {"line 2, column 8", "holds a control character: \"a<U+000A>b\""}},
        {std::string("[roll.a]\ntank = \"") + std::string(301, 'x') + "\"\n", {"line 2, column 8", "is longer than 300 characters"}},
        {std::string("[roll.a]\nnote = \"\"\"") + std::string(4001, 'x') + "\"\"\"\n", {"line 2, column 8", "is longer than 4000 characters"}},
        {"[roll.a]\nnote = \"\\u0007\"\n", {"line 2, column 8", "holds a control character"}},
    });
    CHECK(parse_ledger("[roll.a]\nnote = \"\"\"\nline\n\tline\r\n\"\"\"\n", kPath));
}

TEST_CASE("every problem is listed, in the order of the text, and a flood is counted") {
    const auto two = parse_ledger("[roll.R1]\nstock = \"x\"\nreel = 0\n[stok.a]\n", kPath);
    REQUIRE_FALSE(two);
    const std::string& what = two.error().what;
    CHECK(what.rfind("3 problems\n  line 2, column 9: ", 0) == 0);
    CHECK(what.find("\n  line 3, column 8: ") < what.find("\n  line 4, column 2: "));
    CHECK(what.find("\n  line 4, column 2: ") != std::string::npos);
    CHECK(describe(two.error()).rfind(kPath + ": 3 problems\n", 0) == 0);

    std::string flood = "[roll.R1]\n";
    for (int i = 0; i < 500; ++i) flood.append("k").append(std::to_string(i)).append(" = 1\n");
    const auto many = parse_ledger(flood, kPath);
    REQUIRE_FALSE(many);
    CHECK_THAT(many.error().what, Catch::StartsWith("500 problems\n") && Catch::EndsWith("\n  and 480 more"));
}
