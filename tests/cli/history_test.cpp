// SPDX-License-Identifier: GPL-3.0-or-later
// history on the command line: adding, being killed, showing, comparing, exporting and merging, with the stock sqlite3 as witness.
#include "cli/program.h"
#include "support/synthetic_history.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

bool says(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }

/// Results folders of two invented years in `folder`/results.
void write_years(const TemporaryFolder& folder) {
    const synthetic::Years years = synthetic::simulate_years({});
    for (const synthetic::SessionReport& session : years.sessions) {
        const std::string results = folder.file("results/" + session.folder);
        fs::create_directories(results);
        std::ofstream(results + "/report.json", std::ios::binary) << session.json;
        std::ofstream(results + "/report.html") << "<html></html>";
    }
}

/// What the stock sqlite3 program answers.
std::string sqlite(const TemporaryFolder& folder, const std::string& file, const std::string& question) {
    const std::string out = folder.file(".sqlite-out");
    const std::string line = "sqlite3 -readonly '" + folder.file(file) + "' \"" + question + "\" > '" + out + "' 2>&1";
    if (std::system(line.c_str()) != 0) return "failed: " + content_of(out);
    return content_of(out);
}

}  // namespace

TEST_CASE("invented reports are valid by the published schema") {
    const TemporaryFolder folder;
    write_years(folder);
    for (const auto& entry : fs::directory_iterator(folder.file("results"))) {
        const std::string complaints = schema_complaints((entry.path() / "report.json").string());
        INFO(complaints);
        CHECK(complaints.empty());
    }
}

TEST_CASE("results are added once, shown, compared, exported, and the stock sqlite3 finds the file whole") {
    const TemporaryFolder folder;
    write_years(folder);
    const Ran first = run_program(folder, "history add results/* --history h.sqlite");
    INFO(first.err);
    REQUIRE(first.code == 0);
    CHECK(says(first.out, "120 new, 0 replaced, 0 known"));
    CHECK(sqlite(folder, "h.sqlite", "PRAGMA integrity_check") == "ok\n");
    CHECK(sqlite(folder, "h.sqlite", "SELECT count(*), count(DISTINCT roll) FROM result") == "120|120\n");
    CHECK(sqlite(folder, "h.sqlite", "PRAGMA journal_mode") == "wal\n");
    const std::string before = sqlite(folder, "h.sqlite", ".dump");
    const Ran again = run_program(folder, "history add results/* --history h.sqlite");
    CHECK(says(again.out, "0 new, 0 replaced, 120 known"));
    CHECK((sqlite(folder, "h.sqlite", ".dump") == before));

    const Ran shown = run_program(folder, "history show --history h.sqlite --html page.html");
    REQUIRE(shown.code == 0);
    CHECK(says(shown.out, "120 rolls in"));
    CHECK(says(shown.out, "litre-5, mixed 2024-10-06: It is tiring"));
    CHECK(says(content_of(folder.file("page.html")), "href=\"results/2024-01-10/report.html#roll-1\""));
    CHECK(run_program(folder, "history --history h.sqlite --html page.html").code == 4);
    CHECK(run_program(folder, "history --history h.sqlite --html page.html --replace").code == 0);

    const Ran compared = run_program(folder, "history compare R1 R2 --history h.sqlite");
    CHECK(compared.code == 0);
    CHECK(says(compared.out, "base + fog B"));
    CHECK(run_program(folder, "history compare R1 R999 --history h.sqlite").code == 2);
    CHECK(run_program(folder, "history compare R1 --history h.sqlite").code == 2);
    CHECK(run_program(folder, "history export --csv h.csv --json h.json --history h.sqlite").code == 0);
    CHECK(nlohmann::json::parse(content_of(folder.file("h.json")))["rolls"].size() == 120);
    CHECK(run_program(folder, "history export --csv h.csv --history h.sqlite").code == 4);
    CHECK(run_program(folder, "history export --history h.sqlite").code == 2);
    const Ran to_out = run_program(folder, "history export --csv - --history h.sqlite");
    CHECK(to_out.out == content_of(folder.file("h.csv")));
}

TEST_CASE("without --history the file lies in the data folder") {
    const TemporaryFolder folder;
    write_years(folder);
    CHECK(run_program(folder, "history add results/*", "XDG_DATA_HOME='" + folder.file("data") + "'").code == 0);
    CHECK(fs::exists(folder.file("data/basefog/history.sqlite")));
    CHECK(run_program(folder, "history show", "env -u XDG_DATA_HOME HOME='" + folder.file("home") + "'").code == 3);  // there is none there
    CHECK_FALSE(fs::exists(folder.file("home")));
    CHECK(run_program(folder, "history show", "env -u XDG_DATA_HOME -u HOME").code == 2);
}

TEST_CASE("histories merge, in either direction alike, and never with themselves") {
    const TemporaryFolder folder;
    write_years(folder);
    REQUIRE(run_program(folder, "history add results/2024* --history a.sqlite").code == 0);
    REQUIRE(run_program(folder, "history add results/2025* results/2024-01-10 --history b.sqlite").code == 0);
    fs::copy_file(folder.file("a.sqlite"), folder.file("c.sqlite"));
    REQUIRE(run_program(folder, "history merge b.sqlite --history a.sqlite").code == 0);
    REQUIRE(run_program(folder, "history merge c.sqlite --history b.sqlite").code == 0);
    const Ran a = run_program(folder, "history export --csv - --history a.sqlite"), b = run_program(folder, "history export --csv - --history b.sqlite");
    CHECK(a.out.size() > 10000);
    CHECK((a.out == b.out));
    CHECK(says(run_program(folder, "history merge b.sqlite --history a.sqlite").out, "0 new, 0 replaced"));
    CHECK(run_program(folder, "history merge a.sqlite --history a.sqlite").code == 2);
    CHECK(run_program(folder, "history merge absent.sqlite --history a.sqlite").code == 3);
}

TEST_CASE("bad input leaves the history as it was") {
    const TemporaryFolder folder;
    write_years(folder);
    REQUIRE(run_program(folder, "history add results/2024-01-10 --history h.sqlite").code == 0);
    const std::string before = sqlite(folder, "h.sqlite", ".dump");
    std::ofstream(folder.file("broken.json")) << "{\"program\": \"basefog\"";
    CHECK(run_program(folder, "history add results/* broken.json --history h.sqlite").code == 3);
    CHECK(run_program(folder, "history add absent --history h.sqlite").code == 3);
    CHECK((sqlite(folder, "h.sqlite", ".dump") == before));
    std::ofstream(folder.file("text.sqlite")) << "Dear lab, please find my history enclosed.\n";
    const std::string text = content_of(folder.file("text.sqlite"));
    CHECK(run_program(folder, "history add results/* --history text.sqlite").code == 3);
    CHECK(run_program(folder, "history show --history text.sqlite").code == 3);
    CHECK((content_of(folder.file("text.sqlite")) == text));
}

TEST_CASE("an add that is killed leaves the file whole, with all of it or nothing") {
    const TemporaryFolder folder;
    write_years(folder);
    REQUIRE(run_program(folder, "history add results/2024-01-10 --history h.sqlite").code == 0);
    const std::string kept = sqlite(folder, "h.sqlite", "SELECT count(*) FROM result");
    int killed = 0;
    // When the signal arrives is up to the machine: from before the program runs to after it is done.
    for (int i = 0; i < 60; ++i) {
        fs::remove(folder.file("k.sqlite"));
        fs::remove(folder.file("k.sqlite-wal"));
        fs::remove(folder.file("k.sqlite-shm"));
        const bool begun = i % 2 == 0;  // in turn into a file that is there, and into a new one
        if (begun) fs::copy_file(folder.file("h.sqlite"), folder.file("k.sqlite"));
        const std::string seconds = std::to_string(0.004 + 0.0025 * i);
        const Ran ran = run_program(folder, "history add results/* --history k.sqlite", "timeout --signal=KILL " + seconds);
        INFO(seconds << " s: " << ran.code);
        killed += ran.code == 137 ? 1 : 0;
        if (!fs::exists(folder.file("k.sqlite"))) continue;
        // Opened by our program first, as a person would; then looked at by another.
        const Ran shown = run_program(folder, "history export --csv - --history k.sqlite");
        CHECK((shown.code == 0 || (!begun && shown.code == 3)));
        CHECK(run_program(folder, "history add results/2024-01-10 --history k.sqlite").code == 0);
        CHECK(sqlite(folder, "k.sqlite", "PRAGMA integrity_check") == "ok\n");
        const std::string rolls = sqlite(folder, "k.sqlite", "SELECT count(*) FROM result");
        CHECK((rolls == "120\n" || rolls == kept));
    }
    CHECK(killed > 5);
}
