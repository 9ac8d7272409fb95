// SPDX-License-Identifier: GPL-3.0-or-later
// The groups of a ledger run apart, by two workers of GNU parallel: the pictures of one run, and one history.
#include "cli/program.h"

#include <catch2/catch.hpp>
#include <map>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

/// Two sheets share roll R1; R3 and R4 lie on a sheet each, of stocks of their own.
void put_lab(const TemporaryFolder& folder) {
    const char* ledger = R"(
[stock.T]
box_speed = 500
[stock.D]
box_speed = 250
balance = "daylight"
[roll.R1]
stock = "T"
[roll.R2]
stock = "T"
[roll.R3]
stock = "D"
[roll.R4]
[[sheet]]
file = "scans of may/one.tif"
strips = [ { roll = "R1", first = 1 }, { roll = "R2", first = 1 } ]
[[sheet]]
file = "scans of may/two.tif"
strips = [ { roll = "R1", first = 4 }, { roll = "R1", first = 7 } ]
[[sheet]]
file = "three.tif"
strips = [ { roll = "R3", first = 1 }, { roll = "R3", first = 4 } ]
[[sheet]]
file = "four.tif"
strips = [ { roll = "R4", first = 1 }, { roll = "R4", first = 4 } ]
)";
    std::ofstream(folder.file("ledger.toml")) << ledger;
    fs::create_directory(folder.file("scans of may"));
    std::uint64_t seed = 0;
    for (const char* name : {"scans of may/one.tif", "scans of may/two.tif", "three.tif", "four.tif"})
        synthetic::write_small_sheet(folder.file(name), synthetic::small_sheet(++seed));
}

std::map<std::string, std::string> positives(const std::string& folder) {
    std::map<std::string, std::string> found;
    for (const auto& entry : fs::recursive_directory_iterator(folder))
        if (entry.path().parent_path().filename() == "positives") found[entry.path().filename().string()] = content_of(entry.path().string());
    return found;
}

int lines_in(const std::string& text) { return static_cast<int>(std::count(text.begin(), text.end(), '\n')); }

/// As run_program, of a script of tools/.
Ran run_tool(const TemporaryFolder& folder, const std::string& line, const std::string& before = "") {
    const std::string out = folder.file(".out"), err = folder.file(".err");
    const std::string environment = "BASEFOG='" BASEFOG_PROGRAM " invert' SOURCE_DATE_EPOCH=1700000000 " + before;
    const int status =
        std::system(("cd '" + folder.path().string() + "' && " + environment + " '" BASEFOG_SOURCE_DIR "/tools/'" + line + " >" + out + " 2>" + err).c_str());
    return {WIFEXITED(status) ? WEXITSTATUS(status) : 128 + WTERMSIG(status), content_of(out), content_of(err)};
}

}  // namespace

TEST_CASE("a ledger's groups run side by side give the pictures of one run, and one history") {
    const TemporaryFolder folder;
    put_lab(folder);
    const Ran listed = run_program(folder, "ledger groups ledger.toml");
    INFO(listed.err);
    REQUIRE(listed.code == 0);
    CHECK(listed.out == "scans of may/one.tif\tscans of may/two.tif\nthree.tif\nfour.tif\n");

    REQUIRE(run_program(folder, "invert --ledger ledger.toml --output alone").code == 0);
    const Ran apart = run_tool(folder, "sheets parallel ledger.toml lab --jobs 2");
    INFO(apart.err);
    REQUIRE(apart.code == 0);
    CHECK(lines_in(content_of(folder.file("lab/jobs"))) == 1 + 3);
    CHECK(positives(folder.file("alone")).size() > 12);
    CHECK((positives(folder.file("lab")) == positives(folder.file("alone"))));

    SECTION("merged by history, as often as wanted") {
        for (int i = 0; i < 2; ++i) CHECK(run_tool(folder, "sheets merge h.sqlite lab").code == 0);
        const Ran rolls = run_program(folder, "history export --history h.sqlite --csv -");
        CHECK(lines_in(rolls.out) == 1 + 4);
    }
    SECTION("as tasks of a Slurm array, over results that are finished but for one") {
        for (const auto& entry : fs::directory_iterator(folder.file("lab")))
            if (entry.path().filename().string().starts_with("three-")) fs::remove_all(entry.path());
        for (const char* task : {"1", "2", "3"}) CHECK(run_tool(folder, "sheets one ledger.toml lab", "SLURM_ARRAY_TASK_ID=" + std::string(task)).code == 0);
        CHECK((positives(folder.file("lab")) == positives(folder.file("alone"))));
        CHECK(run_tool(folder, "sheets one ledger.toml lab", "SLURM_ARRAY_TASK_ID=4").code == 2);
    }
    SECTION("a group that fails is counted, and the others are done") {
        std::ofstream(folder.file("three.tif")) << "II*";
        const Ran again = run_tool(folder, "sheets parallel ledger.toml lab --jobs 2");
        CHECK(again.code == 1);
        CHECK(positives(folder.file("lab")).size() >= positives(folder.file("alone")).size() - 6);
    }
}
