// SPDX-License-Identifier: GPL-3.0-or-later
// The file: the same twice changes nothing, whatever comes is whole or refused, and nothing is ever lost.
#include "basefog/history/history_file.h"
#include "basefog/history/export.h"
#include "history/columns.h"
#include "history/layouts.h"

#include "history/years.h"
#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

struct Told : Observer {
    std::vector<std::string> notices;
    void notice(const std::string& message) override { notices.push_back(message); }
};

HistoryRoll roll(const std::string& name, const std::string& sheet, const std::string& finished = "2026-03-20T10:00:00Z") {
    HistoryRoll r;
    r.roll = name;
    r.sheets = {sheet};
    r.session = "march-14";
    r.session_date = Date{std::chrono::year{2026} / 3 / 14};
    r.base_red = 0.2;
    r.finished = finished;
    r.report = "/results/a/report.html";
    r.report_place = 1;
    return r;
}

HistoryFile opened(const std::string& path, HistoryAccess access = HistoryAccess::write) {
    auto file = HistoryFile::open(path, access, silent_observer());
    INFO((file ? std::string() : describe(file.error())));
    REQUIRE(file);
    return std::move(*file);
}

std::string bytes_of(const std::string& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

std::string exported(const HistoryFile& file) { return history_csv(file.rolls(true).value()); }

}  // namespace

TEST_CASE("what goes in comes out, every column of it") {
    const TemporaryFolder folder;
    HistoryRoll full = roll("R \"1\", é", "a.tif, 10 x 20 px, no date");
    full.sheets.push_back("b.tif, 10 x 20 px, no date");
    full.wash_agent = "sodium carbonate";
    full.wash_rinses = 4;
    full.bath_mixed_on = Date{std::chrono::year{2026} / 2 / 28};
    full.black_and_white = true;
    full.slope_blue = 0.1 + 0.2;  // no short decimal
    full.bath_age_days = -3;
    HistoryFile file = opened(folder.file("h.sqlite"));
    CHECK(file.add({full}).value() == AddSummary{1, 0, 0, 0});
    const auto back = file.rolls().value();
    REQUIRE(back.size() == 1);
    CHECK((back[0] == full));
}

TEST_CASE("the same results twice change nothing, and adding in any order gives the same") {
    const TemporaryFolder folder;
    const std::string sheet = "a.tif, 1 x 1 px, no date", other_sheet = "b.tif, 1 x 1 px, no date";
    HistoryRoll newer = roll("R1", sheet, "2026-04-01T10:00:00Z");
    newer.base_red = 0.21;
    HistoryRoll wider = roll("R1", sheet, "2026-03-25T10:00:00Z");
    wider.sheets.push_back(other_sheet);
    const std::vector<HistoryRoll> all{roll("R1", sheet), wider, newer, roll("R2", sheet)};
    std::vector<std::size_t> order{0, 1, 2, 3};
    std::string expected;
    int permutation = 0;
    do {
        const std::string path = folder.file("h" + std::to_string(permutation++) + ".sqlite");
        HistoryFile file = opened(path);
        for (const std::size_t i : order) REQUIRE(file.add({all[i]}));
        std::string now = exported(file) + history_csv(file.rolls().value());
        if (expected.empty()) expected = now;
        CHECK(now == expected);
        CHECK(file.rolls().value().size() == 2);
        CHECK(file.add(all).value() == AddSummary{0, 0, 4, 0});
        CHECK(exported(file) + history_csv(file.rolls().value()) == expected);
    } while (std::next_permutation(order.begin(), order.end()));
    CHECK(permutation == 24);
}

TEST_CASE("a run again of the same sheets replaces, and what only looks alike does not") {
    const TemporaryFolder folder;
    HistoryFile file = opened(folder.file("h.sqlite"));
    const std::string sheet = "a.tif, 1 x 1 px, no date";
    REQUIRE(file.add({roll("R1", sheet)}));
    HistoryRoll again = roll("R1", sheet, "2026-05-01T00:00:00Z");
    again.base_red = 0.3;
    CHECK(file.add({again}).value() == AddSummary{0, 1, 0, 0});
    CHECK(file.rolls().value().size() == 1);
    CHECK(file.rolls().value()[0].base_red == 0.3);
    CHECK(file.rolls(true).value().size() == 2);  // nothing is thrown away
    HistoryRoll late = roll("R1", sheet, "2026-01-01T00:00:00Z");
    late.base_red = 0.4;
    CHECK(file.add({late}).value() == AddSummary{0, 0, 0, 1});
    HistoryRoll another_year = roll("R1", sheet, "2027-05-01T00:00:00Z");
    another_year.session = "may-2";
    another_year.session_date = Date{std::chrono::year{2027} / 5 / 2};
    CHECK(file.add({another_year}).value().added == 1);
    HistoryRoll corrected = again;
    corrected.session_date = Date{std::chrono::year{2026} / 3 / 15};  // the day was wrong in the ledger
    corrected.finished = "2026-06-01T00:00:00Z";
    CHECK(file.add({corrected}).value().replaced == 1);
    CHECK(file.rolls().value().size() == 2);
    HistoryRoll moved = corrected;
    moved.report = "/elsewhere/report.html";
    CHECK(file.add({moved}).value().known == 1);
    bool followed = false;
    const auto kept = file.rolls().value();
    for (const HistoryRoll& r : kept) followed = followed || r.report == moved.report;
    CHECK(followed);
}

TEST_CASE("one roll scanned in two runs of different sheets counts once in the trends") {
    const TemporaryFolder folder;
    HistoryRoll one = roll("R1", "a.tif, 1 x 1 px, no date"), two = roll("R1", "b.tif, 1 x 1 px, no date", "2026-03-22T00:00:00Z");
    one.strips = 4;
    two.strips = 2;
    two.base_red = 0.26;
    const auto trends = find_trends({two, one}, TrendOptions{}).value();
    REQUIRE(trends.rolls.size() == 1);
    CHECK(*trends.rolls[0].base_red == Approx(0.22));
    CHECK(trends.rolls[0].sheets.size() == 2);
    CHECK(*trends.rolls[0].strips == 6);
}

TEST_CASE("a damaged file is refused and not touched") {
    const TemporaryFolder folder;
    const std::string path = folder.file("h.sqlite");
    {
        HistoryFile file = opened(path);
        std::vector<HistoryRoll> many;
        for (int i = 0; i < 400; ++i) many.push_back(roll("R" + std::to_string(i), std::to_string(i) + ".tif"));
        REQUIRE(file.add(many));
    }
    const std::string good = bytes_of(path);
    REQUIRE(good.size() > 40000);
    std::vector<std::string> damaged{good.substr(0, good.size() / 2), good.substr(0, 50), std::string(20000, 'x'), "SQLite format 3"};
    for (const std::size_t at : {std::size_t{4096 + 3}, good.size() / 2 + 5, good.size() - 4096}) {
        std::string torn = good;
        for (std::size_t i = at; i < at + 700 && i < torn.size(); ++i) torn[i] = static_cast<char>(0x5a ^ i);
        damaged.push_back(torn);
    }
    for (std::size_t i = 0; i < damaged.size(); ++i) {
        const std::string bad = folder.file("bad" + std::to_string(i) + ".sqlite");
        std::ofstream(bad, std::ios::binary) << damaged[i];
        for (const HistoryAccess access : {HistoryAccess::write, HistoryAccess::read}) {
            const auto file = HistoryFile::open(bad, access, silent_observer());
            INFO(i);
            REQUIRE_FALSE(file);
            CHECK(file.error().code == ErrorCode::malformed);
            CHECK(file.error().path == bad);
        }
        CHECK((bytes_of(bad) == damaged[i]));
    }
}

TEST_CASE("another program's database, a folder, and a missing file are refused") {
    const TemporaryFolder folder;
    const std::string other = folder.file("other.sqlite");
    {
        const auto database = history_room::Database::open(other, true, true).value();
        REQUIRE(database.run("CREATE TABLE recipe(name TEXT)"));
    }
    const std::string before = bytes_of(other);
    CHECK_FALSE(HistoryFile::open(other, HistoryAccess::write, silent_observer()));
    CHECK((bytes_of(other) == before));
    CHECK_FALSE(HistoryFile::open(folder.path().string(), HistoryAccess::write, silent_observer()));
    const auto missing = HistoryFile::open(folder.file("none.sqlite"), HistoryAccess::read, silent_observer());
    REQUIRE_FALSE(missing);
    CHECK(missing.error().code == ErrorCode::not_found);
    CHECK_FALSE(fs::exists(folder.file("none.sqlite")));
    CHECK(opened(folder.file("deep/er/h.sqlite")).rolls().value().empty());  // folders are made for a new one
}

TEST_CASE("a file of the first layout is brought up to date after a backup, and keeps what it held") {
    const TemporaryFolder folder;
    const std::string path = folder.file("h.sqlite");
    {
        const auto database = history_room::Database::open(path, true, true).value();
        const std::vector<std::string> first{history_room::layout_steps().front()};
        REQUIRE(history_room::bring_up_to_date(database, first, silent_observer()));
        REQUIRE(database.run("INSERT INTO result(digest, roll, sheets, base_red, finished) VALUES('d', 'R1', 'a.tif', 0.25, '2024-01-01')"));
        CHECK(database.whole_of("PRAGMA user_version").value() == 1);
    }
    const std::string before = bytes_of(path);
    Told told;
    {
        const auto file = HistoryFile::open(path, HistoryAccess::write, told);
        REQUIRE(file);
        const auto rolls = file->rolls().value();
        REQUIRE(rolls.size() == 1);
        CHECK(rolls[0].base_red == 0.25);
        CHECK_FALSE(rolls[0].effective_index);
    }
    REQUIRE(told.notices.size() == 1);
    CHECK(told.notices[0].find("layout-1-backup") != std::string::npos);
    const auto backup = history_room::Database::open(path + ".layout-1-backup", false, false).value();
    CHECK(backup.whole_of("PRAGMA user_version").value() == 1);
    CHECK(backup.whole_of("SELECT count(*) FROM result").value() == 1);
    CHECK_FALSE(before.empty());
    // A second opening has nothing to do.
    Told again;
    CHECK(HistoryFile::open(path, HistoryAccess::write, again));
    CHECK(again.notices.empty());
}

TEST_CASE("a step that fails leaves the file as it was, and the backup beside it") {
    const TemporaryFolder folder;
    const std::string path = folder.file("h.sqlite");
    { REQUIRE(opened(path).add({roll("R1", "a.tif")})); }
    const auto database = history_room::Database::open(path, true, false).value();
    std::vector<std::string> steps = history_room::layout_steps();
    steps.push_back("ALTER TABLE result ADD COLUMN one REAL; ALTER TABLE no_such_table ADD COLUMN two REAL;");
    CHECK_FALSE(history_room::bring_up_to_date(database, steps, silent_observer()));
    CHECK(database.whole_of("PRAGMA user_version").value() == static_cast<std::int64_t>(history_room::layout_steps().size()));
    CHECK(database.whole_of("SELECT count(*) FROM pragma_table_info('result') WHERE name = 'one'").value() == 0);
    CHECK(database.whole_of("SELECT count(*) FROM result").value() == 1);
    CHECK(fs::exists(path + ".layout-" + std::to_string(history_room::layout_steps().size()) + "-backup"));
}

TEST_CASE("a file from a newer program is refused and not touched") {
    const TemporaryFolder folder;
    const std::string path = folder.file("h.sqlite");
    { REQUIRE(opened(path).add({roll("R1", "a.tif")})); }
    { REQUIRE(history_room::Database::open(path, true, false).value().run("PRAGMA user_version = 99")); }
    const std::string before = bytes_of(path);
    for (const HistoryAccess access : {HistoryAccess::write, HistoryAccess::read}) {
        const auto file = HistoryFile::open(path, access, silent_observer());
        REQUIRE_FALSE(file);
        CHECK(file.error().code == ErrorCode::unsupported);
    }
    CHECK((bytes_of(path) == before));
}

TEST_CASE("the default place follows the base directory specification") {
    // [XDG-basedir]: $XDG_DATA_HOME, by default $HOME/.local/share; a relative path in it is to be ignored.
    CHECK(default_history_path("/data", "/home/a") == "/data/basefog/history.sqlite");
    CHECK(default_history_path(nullptr, "/home/a") == "/home/a/.local/share/basefog/history.sqlite");
    CHECK(default_history_path("", "/home/a") == "/home/a/.local/share/basefog/history.sqlite");
    CHECK(default_history_path("relative", "/home/a") == "/home/a/.local/share/basefog/history.sqlite");
    CHECK(default_history_path(nullptr, nullptr).empty());
}

TEST_CASE("exports hold every roll, and nothing a spreadsheet would run") {
    HistoryRoll r = roll("=cmd()", "a, \"b\".tif");
    r.base_red = -0.01;
    const std::string csv = history_csv({r});
    CHECK(csv.find("\r\n'=cmd(),\"a, \"\"b\"\".tif\",") != std::string::npos);
    CHECK(csv.find(",-0.01,") != std::string::npos);
    const auto json = nlohmann::json::parse(history_json({r, roll("R2", "b.tif")}));
    CHECK(json["rolls"].size() == 2);
    CHECK(json["rolls"][0]["roll"] == "=cmd()");
    CHECK(json["rolls"][0]["base_red"] == -0.01);
    CHECK(json["rolls"][0]["base_blue"].is_null());
    CHECK(json["rolls"][0].size() == history_room::columns().size());
}
