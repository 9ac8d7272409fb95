// SPDX-License-Identifier: GPL-3.0-or-later
// What the guide tells a newcomer to type must run, as it stands and in its order.
#include "cli/program.h"

#include <catch2/catch.hpp>

#include <nlohmann/json.hpp>
#include <vector>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

/// Every indented line of the page: a command.
std::vector<std::string> commands_of(const std::string& page) {
    std::vector<std::string> commands;
    std::istringstream lines(content_of(std::string(BASEFOG_SOURCE_DIR "/") + page));
    for (std::string line; std::getline(lines, line);)
        if (line.rfind("    ", 0) == 0) commands.push_back(line.substr(4));
    return commands;
}

/// What a newcomer has after the guide's first steps, on a small sheet instead of the demo's, which take a minute to draw.
void prepare(const TemporaryFolder& folder) {
    fs::copy_file(shared_sheet_path(), folder.file("sheet-1.tif"));
    std::ofstream(folder.file("ledger.toml"))
        << "[roll.A]\n[[sheet]]\nfile = \"sheet-1.tif\"\nstrips = [ { roll = \"A\", first = 1 }, { roll = \"A\", first = 7 } ]\n";
    // The page for corrections runs till it is stopped: here, once it has told its address.
    std::ofstream(folder.file("basefog")) << "#!/bin/sh\n[ \"$1\" = review ] || exec '" BASEFOG_PROGRAM
                                             "' \"$@\"\n"
                                             "timeout --preserve-status --signal=INT 3 '" BASEFOG_PROGRAM "' \"$@\"\n";
    fs::permissions(folder.file("basefog"), fs::perms::owner_all);
}

double left_edge_of_first_frame(const std::string& report) {
    return nlohmann::json::parse(content_of(report)).at("scans").at(0).at("strips").at(0).at("frames").at(0).at("corners_px").at(0).at(0).get<double>();
}

}  // namespace

TEST_CASE("the guide's commands after building run as written on a small sheet, and lead to a corrected positive") {
    const TemporaryFolder folder;
    prepare(folder);
    const std::vector<std::string> commands = commands_of("docs/guide.md");
    REQUIRE(commands.size() >= 12);
    // The first steps install, build and enter the demo's folder: tools/guide-check runs them too, in a fresh clone, and all the rest on the demo.
    REQUIRE(commands[0] == "tools/demo");
    REQUIRE(commands[1] == "cd demo");
    REQUIRE(commands[2].rfind("export PATH=", 0) == 0);
    double found = 0;
    for (std::size_t i = 3; i < commands.size(); ++i) {
        const std::string line = "cd '" + folder.path().string() + "' && export PATH=\"$PWD:$PATH\" XDG_DATA_HOME='" + folder.file("data") + "' && " +
                                 commands[i] + " 2>'" + folder.file(".said") + "'";
        const int status = std::system(line.c_str());
        INFO(commands[i] << "\n" << content_of(folder.file(".said")));
        CHECK(status == 0);
        if (commands[i].rfind("basefog invert", 0) == 0 && found == 0) found = left_edge_of_first_frame(folder.file("results/report.json"));
    }
    // The guide's own edit: 20 pixels off the left edge.
    CHECK(left_edge_of_first_frame(folder.file("results/report.json")) - found == Approx(20).margin(0.1));
    CHECK(fs::exists(folder.file("results/positives/A-01.tif")));
    CHECK(fs::exists(folder.file("my-ledger.toml")));
    CHECK(fs::exists(folder.file("history.html")));
}

TEST_CASE("the guide's pictures and pages are there") {
    const std::string guide = content_of(BASEFOG_SOURCE_DIR "/docs/guide.md");
    int links = 0;
    for (std::size_t at = guide.find("]("); at != std::string::npos; at = guide.find("](", at + 1), ++links) {
        const std::string target = guide.substr(at + 2, guide.find(')', at) - at - 2);
        INFO(target);
        CHECK(fs::exists(fs::path(BASEFOG_SOURCE_DIR "/docs") / target));
    }
    CHECK(links >= 8);
}
