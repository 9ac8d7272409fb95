// SPDX-License-Identifier: GPL-3.0-or-later
#include "pipeline/outputs.h"

#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <fstream>

using namespace basefog;
using namespace basefog::pipeline;
namespace fs = std::filesystem;

namespace {
Result<OutputFolder> open_folder(const std::string& folder, bool positives, bool replace) {
    static const InputFiles none{RunOptions{}, Plan{}};
    return OutputFolder::open(folder, positives, [replace] { return replace; }, none);
}
}  // namespace

TEST_CASE("an output folder is made with its parts") {
    const TemporaryFolder folder;
    const auto output = open_folder(folder.file("a/b"), true, false);
    REQUIRE(output);
    for (const char* part : {"positives", "proofs", "contact", "maps"}) CHECK(fs::is_directory(folder.path() / "a/b" / part));
    const auto measured = open_folder(folder.file("c"), false, false);
    REQUIRE(measured);
    CHECK_FALSE(fs::exists(folder.path() / "c/positives"));
    CHECK_FALSE(fs::exists(folder.path() / "a/b/linear"));
}

TEST_CASE("earlier results are refused unless they may be replaced") {
    const TemporaryFolder folder;
    REQUIRE(open_folder(folder.file("out"), true, false));
    CHECK(open_folder(folder.file("out"), true, false));  // empty parts are no results
    std::ofstream(folder.file("out/report.json")) << "{}";
    const auto again = open_folder(folder.file("out"), true, false);
    REQUIRE_FALSE(again);
    CHECK(again.error().code == ErrorCode::unwritable);
    CHECK(again.error().hint.find("--replace") != std::string::npos);
    CHECK(open_folder(folder.file("out"), true, true));
}

TEST_CASE("a file in the folder's place is an output error") {
    const TemporaryFolder folder;
    std::ofstream(folder.file("out")) << "x";
    const auto output = open_folder(folder.file("out"), true, true);
    REQUIRE_FALSE(output);
    CHECK(output.error().code == ErrorCode::unwritable);
}

TEST_CASE("result names do not collide, whatever the file system thinks of letter case") {
    const TemporaryFolder folder;
    auto output = open_folder(folder.file("out"), true, false);
    REQUIRE(output);
    CHECK(output->unique("positives", "R1-01", ".tif") == "positives/R1-01.tif");
    CHECK(output->unique("positives", "r1-01", ".tif") == "positives/r1-01-2.tif");
    CHECK(output->unique("proofs", "R1-01", ".tif") == "proofs/R1-01.tif");
}

TEST_CASE("a folder belongs to one run at a time, and is free again afterwards") {
    const TemporaryFolder folder;
    {
        const auto first = open_folder(folder.file("out"), true, false);
        REQUIRE(first);
        const auto second = open_folder(folder.file("out"), true, true);
        REQUIRE_FALSE(second);
        CHECK(second.error().code == ErrorCode::unwritable);
    }
    CHECK(open_folder(folder.file("out"), true, false));
}

TEST_CASE("a result never takes the place of a file the run reads, by whatever path that is reached") {
    const TemporaryFolder folder;
    fs::create_directories(folder.path() / "out/positives");
    std::ofstream(folder.file("out/positives/a-01.tif")) << "a scan";
    fs::create_symlink(folder.path() / "out/positives/a-01.tif", folder.path() / "link.tif");
    RunOptions options;
    options.scans = {folder.file("link.tif")};
    const auto plan = make_plan(options);
    REQUIRE(plan);
    const InputFiles inputs(options, *plan);
    auto output = OutputFolder::open(folder.file("out"), true, [] { return true; }, inputs);
    REQUIRE(output);
    CHECK(output->unique("positives", "a-01", ".tif") == "positives/a-01-2.tif");
    CHECK(output->count_leftovers() == 1);
}
