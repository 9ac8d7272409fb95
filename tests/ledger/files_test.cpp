// SPDX-License-Identifier: GPL-3.0-or-later
// Ledgers that take in others, notebooks kept as CSV, and remarks on what looks like a slip.
#include "basefog/ledger/read_ledger.h"

#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <fstream>

using namespace basefog;

namespace {

struct Files : TemporaryFolder {
    void put(const std::string& name, const std::string& text) const {
        std::filesystem::create_directories(std::filesystem::path(file(name)).parent_path());
        std::ofstream(file(name), std::ios::binary) << text;
    }
    [[nodiscard]] Result<Ledger> read(const std::string& name) const { return read_ledger(file(name)); }
    [[nodiscard]] std::string complaint(const std::string& name) const {
        const auto ledger = read(name);
        return ledger ? std::string("no complaint") : describe(ledger.error());
    }
};

Date day(int y, unsigned m, unsigned d) { return Date{std::chrono::year{y}, std::chrono::month{m}, std::chrono::day{d}}; }

}  // namespace

TEST_CASE("ledgers take in others, from folders of their own, once each, and refer across") {
    const Files files;
    files.put(
        "all.toml",
        "include = [\"years/2025.toml\", \"baths.toml\"]\n[roll.R3]\nstock = \"t500\"\nsession = \"s2\"\n[session.s2]\nbath = \"dev-a\"\ndate = 2026-01-10\n");
    files.put("baths.toml", "include = \"all.toml\"\n[bath.dev-a]\nmixed_on = 2025-12-01\n");  // names each other: no harm
    files.put("years/2025.toml",
              "include = \"../baths.toml\"\n[stock.t500]\n[session.s1]\ndate = 2025-12-20\nbath = \"dev-a\"\n[roll.R1]\nsession = \"s1\"\n[roll.R2]\nsession = "
              "\"s1\"\n"
              "[[sheet]]\nfile = \"a.tif\"\nstrips = [ { roll = \"R1\" } ]\n");
    const auto ledger = files.read("all.toml");
    INFO(files.complaint("all.toml"));
    REQUIRE(ledger);
    CHECK(ledger->rolls.size() == 3);
    CHECK(ledger->baths.size() == 1);
    CHECK(rolls_done_before(*ledger, "R3") == 2);
    CHECK(ledger->sheets[0].path == files.file("years/a.tif"));
    CHECK(ledger->path == files.file("all.toml"));
}

TEST_CASE("a name or a scan in two files, a missing file, and a mistake in a file taken in are named with that file") {
    const Files files;
    files.put("a.toml", "include = \"b.toml\"\n\n[roll.R1]\n");
    files.put("b.toml", "[roll.R1]\n");
    CHECK_THAT(files.complaint("a.toml"),
               Catch::Contains("a.toml: line 3, column") && Catch::Contains("roll \"R1\" is already in") && Catch::Contains("b.toml"));
    files.put("c.toml", "include = [\"b.toml\", \"gone.toml\"]\n");
    CHECK_THAT(files.complaint("c.toml"),
               Catch::Contains("c.toml: line 1, column 22") && Catch::Contains("gone.toml") && Catch::Contains("there is no such file"));
    files.put("d.toml", "include = \"e.toml\"\n");
    files.put("e.toml", "[roll.R2]\nratign = 3\n");
    CHECK_THAT(files.complaint("d.toml"), Catch::Contains("e.toml: line 2, column 1"));
    files.put("f.toml", "include = 3\n");
    CHECK_THAT(files.complaint("f.toml"), Catch::Contains("must name files"));
    files.put("g.toml", "include = \"h.toml\"\n[roll.A]\n[[sheet]]\nfile = \"s.tif\"\nstrips = [ { roll = \"A\" } ]\n");
    files.put("h.toml", "[roll.B]\n[[sheet]]\nfile = \"s.tif\"\nstrips = [ { roll = \"B\" } ]\n");
    CHECK_THAT(files.complaint("g.toml"), Catch::Contains("already described in"));
}

TEST_CASE("a notebook kept as CSV becomes rolls and sessions, its own columns mapped") {
    const Files files;
    files.put("ledger.toml",
              "[notebook.old]\nfile = \"book.csv\"\nseparator = \";\"\ndates = \"day.month.year\"\n"
              "columns = { roll = \"Film no.\", date = \"Developed\", stock = \"Stock\", bath = \"Dev\", rating = \"EI\", tank = \"Tank\", reel = \"Pos\", "
              "developer_minutes = \"Min\", "
              "wash_agent = \"Wash\", wash_temperature_c = \"Wash C\", note = \"Remarks\" }\n[roll.12]\nrating = 100\n[bath.\"A 1\"]\nmixed_on = 2024-01-01\n");
    files.put("book.csv",
              "\xEF\xBB\xBF"
              "Film no.;Developed;Stock;Dev;EI;Tank;Pos;Min;Wash;Wash C;Remarks\r\n"
              "11;14.3.2024;t500;A 1;200;two-reel;1;3:15;soda;38,5;\"rain; \"\"all\"\" day\r\nand night\"\r\n"
              "12;14.3.2024;t500;A 1;250;two-reel;2;3,25;soda;38,5;\r\n"
              "13;2.4.2024;d50;A 1;;;;;;;\r\n;;;;;;;;;;\r\n");
    const auto ledger = files.read("ledger.toml");
    INFO(files.complaint("ledger.toml"));
    REQUIRE(ledger);
    REQUIRE(ledger->rolls.size() == 3);
    const Roll& roll = *ledger->find_roll("11");
    CHECK(roll.stock == "t500");
    CHECK(roll.rating == 200.0);
    CHECK(roll.reel == 1);
    CHECK(roll.note == "rain; \"all\" day\r\nand night");
    CHECK(roll.session == "2024-03-14 A 1");
    CHECK(ledger->find_roll("12")->rating == 100.0);  // the ledger's own word outranks the notebook's
    const Session& session = *ledger->find_session("2024-03-14 A 1");
    CHECK(session.date == day(2024, 3, 14));
    CHECK(*session.developer_minutes == Approx(3.25));
    CHECK(session.wash->agent == "soda");
    CHECK(session.wash->temperature->value() == Approx(38.5));
    CHECK(ledger->find_stock("d50") != nullptr);
    CHECK(rolls_done_before(*ledger, "13") == 1);
    CHECK(bath_age_days(*ledger, "13") == 92);
}

TEST_CASE("what a notebook gets wrong is named by line and column of its own file") {
    const Files files;
    const auto complaint = [&](const std::string& columns, const std::string& csv) {
        files.put("l.toml", "[notebook.n]\nfile = \"n.csv\"\ncolumns = { roll = \"Roll\"" + columns + " }\n");
        files.put("n.csv", csv);
        return files.complaint("l.toml");
    };
    CHECK(complaint("", "Roll\nR1\n") == "no complaint");
    CHECK_THAT(complaint(", date = \"Day\"", "Roll,Date\nR1,2024-01-01\n"), Catch::Contains("n.csv: line 1") && Catch::Contains("no column is headed \"Day\""));
    CHECK_THAT(complaint(", date = \"Day\"", "Roll,Day\nR1,2024-02-30\n"),
               Catch::Contains("n.csv: line 2, column 2") && Catch::Contains("no day of the calendar"));
    CHECK_THAT(complaint(", rating = \"EI\"", "Roll,EI\nR1,fast\nR2,0\n"), Catch::Contains("line 2, column 2") && Catch::Contains("line 3, column 2"));
    CHECK_THAT(complaint(", speed = \"EI\"", "Roll,EI\nR1,1\n"), Catch::Contains("l.toml: line 3") && Catch::Contains("unknown key \"speed\""));
    CHECK_THAT(complaint("", ""), Catch::Contains("n.csv: this notebook is empty"));
    CHECK_THAT(complaint("", "Roll\n\xff\xfe\n"), Catch::Contains("not UTF-8"));
    files.put("l.toml", "[notebook.n]\nfile = \"gone.csv\"\ncolumns = { roll = \"R\" }\n");
    CHECK_THAT(files.complaint("l.toml"), Catch::Contains("gone.csv"));
}

TEST_CASE("remarks on days and places that look like a slip, and none on a sound ledger") {
    const auto remarks = [](const std::string& text) { return ledger_remarks(parse_ledger(text, "l.toml").value(), day(2026, 6, 1)); };
    const std::string bath = "[bath.a]\nmixed_on = 2026-01-01\ngood_for_rolls = 1\n";
    CHECK(remarks(bath + "[session.s]\nbath = \"a\"\ndate = 2026-02-01\n[roll.R1]\nsession = \"s\"\nreel = 1\n").empty());
    const auto one = [&](const std::string& text, const std::string& part) {
        const auto found = remarks(text);
        REQUIRE(found.size() == 1);
        CHECK_THAT(found[0], Catch::Contains(part));
    };
    one("[session.s]\ndate = 2026-06-02\n", "still to come");
    one("[bath.b]\nmixed_on = 2027-01-01\n", "still to come");
    one("[bath.b]\nmixed_on = 2024-01-01\n[session.s]\nbath = \"b\"\ndate = 2025-03-01\n", "425 days after");
    one(bath + "[session.s]\nbath = \"a\"\n[roll.R1]\nsession = \"s\"\n[roll.R2]\nsession = \"s\"\n", "has done 2 rolls and is good for 1");
    one("[session.s]\n[roll.R1]\nsession = \"s\"\nreel = 1\n[roll.R2]\nsession = \"s\"\nreel = 1\n", "same place 1");
    one("[stock.t]\nexpiry = 2104\n[session.s]\ndate = 2025-03-01\n[roll.R1]\nstock = \"t\"\nsession = \"s\"\n", "dated 2104-12-31");
    CHECK(ledger_remarks(parse_ledger("[session.s]\ndate = 2026-06-02\n", "l.toml").value(), std::nullopt).empty());
}
