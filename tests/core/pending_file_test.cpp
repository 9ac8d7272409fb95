// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/pending_file.h"

#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>

using namespace basefog;
namespace fs = std::filesystem;

namespace {
std::string content(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}
}  // namespace

TEST_CASE("a file is absent until committed and nothing else is left") {
    const TemporaryFolder folder;
    const fs::path target = folder.path() / "a.txt";
    {
        PendingFile pending(target.string());
        std::ofstream(pending.temporary_path()) << "half";
        CHECK_FALSE(fs::exists(target));
    }
    CHECK(fs::is_empty(folder.path()));
    REQUIRE(write_whole_file(target.string(), "whole"));
    CHECK(content(target) == "whole");
    REQUIRE(write_whole_file(target.string(), "newer"));
    CHECK(content(target) == "newer");
    CHECK(std::distance(fs::directory_iterator(folder.path()), fs::directory_iterator{}) == 1);
}

TEST_CASE("writing into a missing folder is an error that names the path") {
    const TemporaryFolder folder;
    const std::string target = (folder.path() / "missing" / "a.txt").string();
    const auto result = write_whole_file(target, "x");
    REQUIRE_FALSE(result);
    CHECK(result.error().code == ErrorCode::unwritable);
    CHECK(result.error().path == target);
}

TEST_CASE("a pending file that vanished is reported, not ignored") {
    const TemporaryFolder folder;
    PendingFile pending((folder.path() / "b.txt").string());
    const auto result = pending.commit();
    REQUIRE_FALSE(result);
    CHECK(result.error().code == ErrorCode::unwritable);
}
