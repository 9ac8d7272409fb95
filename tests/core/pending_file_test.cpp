// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/pending_file.h"

#include <unistd.h>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>

using namespace basefog;
namespace fs = std::filesystem;

namespace {
struct Folder {
    fs::path path = fs::temp_directory_path() / ("basefog-pending-" + std::to_string(::getpid()));
    Folder() { fs::create_directories(path); }
    ~Folder() { fs::remove_all(path); }
};
std::string content(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}
}  // namespace

TEST_CASE("a file is absent until committed and nothing else is left") {
    const Folder folder;
    const fs::path target = folder.path / "a.txt";
    {
        PendingFile pending(target.string());
        std::ofstream(pending.temporary_path()) << "half";
        CHECK_FALSE(fs::exists(target));
    }
    CHECK(fs::is_empty(folder.path));
    REQUIRE(write_whole_file(target.string(), "whole"));
    CHECK(content(target) == "whole");
    REQUIRE(write_whole_file(target.string(), "newer"));
    CHECK(content(target) == "newer");
    CHECK(std::distance(fs::directory_iterator(folder.path), fs::directory_iterator{}) == 1);
}

TEST_CASE("writing into a missing folder is an error that names the path") {
    const Folder folder;
    const std::string target = (folder.path / "missing" / "a.txt").string();
    const auto result = write_whole_file(target, "x");
    REQUIRE_FALSE(result);
    CHECK(result.error().code == ErrorCode::unwritable);
    CHECK(result.error().path == target);
}

TEST_CASE("a pending file that vanished is reported, not ignored") {
    const Folder folder;
    PendingFile pending((folder.path / "b.txt").string());
    const auto result = pending.commit();
    REQUIRE_FALSE(result);
    CHECK(result.error().code == ErrorCode::unwritable);
}
