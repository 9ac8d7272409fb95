// SPDX-License-Identifier: GPL-3.0-or-later
// What the README and the page on the history tell a newcomer to type must run.
#include "cli/program.h"
#include "support/synthetic_history.h"

#include <catch2/catch.hpp>
#include <vector>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

/// The indented lines that call the program, without their comments, up to `until`.
std::vector<std::string> commands_in(const std::string& page, const std::string& until) {
    std::string text = content_of(std::string(BASEFOG_SOURCE_DIR "/") + page);
    text = text.substr(0, text.find(until));
    std::vector<std::string> commands;
    const std::string start = "\n    basefog ";
    for (std::size_t at = text.find(start); at != std::string::npos; at = text.find(start, at + 1)) {
        std::string line = text.substr(at + start.size(), text.find('\n', at + 1) - at - start.size());
        commands.push_back(line.substr(0, line.find("  #")));
    }
    return commands;
}

}  // namespace

TEST_CASE("the README's commands run, in their order") {
    const TemporaryFolder folder;
    fs::copy_file(shared_sheet_path(), folder.file("sheet-01.tif"));
    fs::create_directory(folder.file("scans"));
    fs::copy_file(shared_sheet_path(), folder.file("scans/sheet-02.tif"));
    const std::vector<std::string> commands = commands_in("README.md", "## Commands");
    CHECK(commands.size() >= 8);
    for (const std::string& command : commands) {
        // All ways of step 3 write the same folder.
        if (command.find("--output results") != std::string::npos && command.find("--replace") == std::string::npos) fs::remove_all(folder.file("results"));
        const Ran ran = run_program(folder, command, "XDG_DATA_HOME='" + folder.file("data") + "'");
        INFO(command << "\n" << ran.err);
        if (command.rfind("ledger check", 0) == 0) {
            CHECK(ran.code == 3);  // the template's scans are invented, and it says so
            std::ofstream(folder.file("ledger.toml"))
                << "[roll.R1]\n[[sheet]]\nfile = \"sheet-01.tif\"\nstrips = [ { roll = \"R1\", first = 1 }, { roll = \"R1\", first = 7 } ]\n";
        } else {
            CHECK(ran.code == 0);
        }
        if (command.rfind("ledger write", 0) == 0) std::ofstream(folder.file("ledger.toml")) << ran.out;  // where the shell's '>' sends it
    }
    CHECK(fs::exists(folder.file("history.html")));
}

TEST_CASE("the commands on the history's page run, in their order") {
    const TemporaryFolder folder;
    const synthetic::Years years = synthetic::simulate_years({});
    std::vector<std::string> reports;
    for (const synthetic::SessionReport& session : years.sessions) {
        const std::string results = folder.file(session.folder);
        fs::create_directories(results);
        std::ofstream(results + "/report.json", std::ios::binary) << session.json;
    }
    REQUIRE(run_program(folder, "history add 20* --history other.sqlite").code == 0);
    fs::copy(folder.file(years.sessions[2].folder), folder.file("results"));
    const std::string home = "XDG_DATA_HOME='" + folder.file("data") + "'";
    REQUIRE(run_program(folder, "history add 20*", home).code == 0);
    const std::vector<std::string> commands = commands_in("docs/history.md", "## The file");
    CHECK(commands.size() == 5);
    for (const std::string& command : commands) {
        const Ran ran = run_program(folder, command, home);
        INFO(command << "\n" << ran.err);
        CHECK(ran.code == 0);
    }
}
