// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/program.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

using namespace basefog;
namespace fs = std::filesystem;

namespace {
bool says(const std::string& text, const std::string& part) { return text.find(part) != std::string::npos; }
std::string quoted(const std::string& path) { return "'" + path + "'"; }

int files_in(const fs::path& folder) {
    int n = 0;
    if (fs::exists(folder))
        for (const auto& entry : fs::recursive_directory_iterator(folder)) n += entry.is_regular_file() ? 1 : 0;
    return n;
}
}  // namespace

TEST_CASE("help and version succeed, a command line that says nothing or nonsense is a usage error") {
    const TemporaryFolder folder;
    CHECK(run_program(folder, "--help").code == 0);
    CHECK(run_program(folder, "invert --help").code == 0);
    const Ran version = run_program(folder, "version");
    CHECK(version.code == 0);
    CHECK(says(version.out, "GPL-3.0-or-later"));
    CHECK(run_program(folder, "").code == 2);
    CHECK(run_program(folder, "develop").code == 2);
    CHECK(run_program(folder, "invert").code == 2);
    CHECK(run_program(folder, "invert a.tif --compression best").code == 2);
    CHECK(run_program(folder, "invert a.tif --encoding log").code == 2);
    CHECK(run_program(folder, "invert a.tif --memory 1M").code == 2);
    CHECK(run_program(folder, "invert a.tif b.tif --infrared c.tif").code == 2);
    CHECK(files_in(folder.path()) == 0);
}

TEST_CASE("the main job: results named at the end, quiet when piped, nothing overwritten unasked, report valid") {
    const TemporaryFolder folder;
    const Ran first = run_program(folder, "invert " + quoted(shared_sheet_path()) + " --output out");
    INFO(first.err);
    REQUIRE(first.code == 0);
    CHECK(says(first.out, "Report:    out/report.html\nPositives: out/positives\n"));
    CHECK_FALSE(says(first.err, "\r"));
    CHECK_FALSE(says(first.err, "\033"));
    CHECK(schema_complaints(folder.file("out/report.json")).empty());

    const Ran again = run_program(folder, "invert " + quoted(shared_sheet_path()) + " --output out --exposure 0.5");
    CHECK(again.code == 4);
    CHECK(says(again.err, "--replace"));
    const Ran replaced = run_program(folder, "invert " + quoted(shared_sheet_path()) + " --output out --replace --quiet");
    CHECK(replaced.code == 0);
    CHECK(replaced.out.empty());
    CHECK(replaced.err.empty());
}

TEST_CASE("measure makes a report and no positives, and its layout can be given back") {
    const TemporaryFolder folder;
    const Ran measured = run_program(folder, "measure " + quoted(shared_sheet_path()) + " --output out --write-layout layout.toml");
    INFO(measured.err);
    REQUIRE(measured.code == 0);
    CHECK(fs::exists(folder.file("out/report.json")));
    CHECK_FALSE(fs::exists(folder.file("out/positives")));
    REQUIRE(fs::exists(folder.file("layout.toml")));
    CHECK(run_program(folder, "measure " + quoted(shared_sheet_path()) + " --output out2 --write-layout layout.toml").code == 4);
    const Ran corrected = run_program(folder, "measure " + quoted(shared_sheet_path()) + " --output out3 --layout layout.toml");
    CHECK(corrected.code == 0);
    const auto one = nlohmann::json::parse(content_of(folder.file("out/report.json")));
    const auto other = nlohmann::json::parse(content_of(folder.file("out3/report.json")));
    const auto& a = one["scans"][0]["strips"][0]["frames"][0]["corners_px"];
    const auto& b = other["scans"][0]["strips"][0]["frames"][0]["corners_px"];
    for (std::size_t i = 0; i < 4; ++i)
        for (std::size_t k = 0; k < 2; ++k) CHECK(b[i][k].get<double>() == Approx(a[i][k].get<double>()).margin(0.02));
    std::ofstream(folder.file("bad.toml")) << "[[sheet]]\nfile = 3\n";
    const Ran bad = run_program(folder, "measure " + quoted(shared_sheet_path()) + " --output out4 --layout bad.toml");
    CHECK(bad.code == 2);
    CHECK(says(bad.err, "line 2"));
}

TEST_CASE("the ledger's template checks, a mistake is named by line, a missing sheet is an input error and the others go on") {
    const TemporaryFolder folder;
    const Ran written = run_program(folder, "ledger write");
    REQUIRE(written.code == 0);
    std::ofstream(folder.file("template.toml")) << written.out;
    const Ran checked = run_program(folder, "ledger check template.toml");
    CHECK(checked.code == 3);  // its sheets are invented
    CHECK(says(checked.err, "not there"));
    std::ofstream(folder.file("typo.toml")) << "[roll.R1]\nratign = 200\n";
    const Ran typo = run_program(folder, "ledger check typo.toml");
    CHECK(typo.code == 2);
    CHECK(says(typo.err, "line 2, column 1"));
    CHECK(says(typo.err, "rating"));
    CHECK(run_program(folder, "ledger check absent.toml").code == 3);

    std::ofstream(folder.file("ledger.toml"))
        << "[roll.R1]\nrating = 200\n[[sheet]]\nfile = \"absent.tif\"\nstrips = [ { roll = \"R1\", first = 1 } ]\n[[sheet]]\nfile = \"" << shared_sheet_path()
        << "\"\nstrips = [ { roll = \"R1\", first = 7 }, { roll = \"R1\", first = 10 } ]\n";
    const Ran ran = run_program(folder, "invert --ledger ledger.toml --output out");
    CHECK(ran.code == 3);
    CHECK(says(ran.err, "absent.tif"));
    CHECK(fs::exists(folder.file("out/positives/R1-07.tif")));
    CHECK(schema_complaints(folder.file("out/report.json")).empty());
}

TEST_CASE("findings fail the run only when asked") {
    const TemporaryFolder folder;
    // Two strips on the sheet, one in the ledger: a caution.
    std::ofstream(folder.file("ledger.toml")) << "[roll.R1]\n[[sheet]]\nfile = \"" << shared_sheet_path() << "\"\nstrips = [ { roll = \"R1\", first = 1 } ]\n";
    CHECK(run_program(folder, "measure --ledger ledger.toml --output a").code == 0);
    CHECK(run_program(folder, "measure --ledger ledger.toml --output b --fail-on caution").code == 1);
    CHECK(run_program(folder, "measure --ledger ledger.toml --output c --fail-on serious").code == 0);
}

TEST_CASE("an interrupt ends the run with 5 and leaves no half file") {
    const TemporaryFolder folder;
    int stopped = 0;
    // When a signal arrives is up to the machine: some come before the program runs (130, killed) or after it is done (0).
    for (const char* seconds : {"0.2", "0.35", "0.5", "0.7", "1", "1.4", "2", "3"}) {
        const std::string out = std::string("out-") + seconds;
        const Ran ran =
            run_program(folder, "invert " + quoted(shared_sheet_path()) + " --output " + out, std::string("timeout --preserve-status --signal=INT ") + seconds);
        INFO(seconds << " s: " << ran.code << " " << ran.err);
        CHECK((ran.code == 0 || ran.code == 5 || ran.code == 130));
        CHECK(fs::exists(folder.path() / out / "report.json") == (ran.code == 0));
        if (ran.code == 130) continue;
        stopped += ran.code == 5 ? 1 : 0;
        for (const auto& entry : fs::recursive_directory_iterator(folder.path() / out))
            CHECK(entry.path().filename().string().find(".pending") == std::string::npos);
    }
    CHECK(stopped > 0);
}
