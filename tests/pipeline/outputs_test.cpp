// SPDX-License-Identifier: GPL-3.0-or-later
#include "pipeline/outputs.h"

#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <fstream>

using namespace basefog;
using namespace basefog::pipeline;
namespace fs = std::filesystem;

TEST_CASE("an output folder is made with its parts") {
    const TemporaryFolder folder;
    const auto output = OutputFolder::open(folder.file("a/b"), true, false);
    REQUIRE(output);
    for (const char* part : {"positives", "proofs", "contact", "maps"}) CHECK(fs::is_directory(folder.path() / "a/b" / part));
    const auto measured = OutputFolder::open(folder.file("c"), false, false);
    REQUIRE(measured);
    CHECK_FALSE(fs::exists(folder.path() / "c/positives"));
}

TEST_CASE("earlier results are refused unless they may be replaced") {
    const TemporaryFolder folder;
    REQUIRE(OutputFolder::open(folder.file("out"), true, false));
    CHECK(OutputFolder::open(folder.file("out"), true, false));  // empty parts are no results
    std::ofstream(folder.file("out/report.json")) << "{}";
    const auto again = OutputFolder::open(folder.file("out"), true, false);
    REQUIRE_FALSE(again);
    CHECK(again.error().code == ErrorCode::unwritable);
    CHECK(again.error().hint.find("--replace") != std::string::npos);
    CHECK(OutputFolder::open(folder.file("out"), true, true));
}

TEST_CASE("a file in the folder's place is an output error") {
    const TemporaryFolder folder;
    std::ofstream(folder.file("out")) << "x";
    const auto output = OutputFolder::open(folder.file("out"), true, true);
    REQUIRE_FALSE(output);
    CHECK(output.error().code == ErrorCode::unwritable);
}

TEST_CASE("result names do not collide, whatever the file system thinks of letter case") {
    const TemporaryFolder folder;
    auto output = OutputFolder::open(folder.file("out"), true, false);
    REQUIRE(output);
    CHECK(output->unique("positives", "R1-01", ".tif") == "positives/R1-01.tif");
    CHECK(output->unique("positives", "r1-01", ".tif") == "positives/r1-01-2.tif");
    CHECK(output->unique("proofs", "R1-01", ".tif") == "proofs/R1-01.tif");
}
