// SPDX-License-Identifier: GPL-3.0-or-later
#include "review/guard.h"
#include "review/results.h"

#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::review;

TEST_CASE("a secret is the same or not") {
    CHECK(same_secret("0123456789abcdef", "0123456789abcdef"));
    CHECK_FALSE(same_secret("0123456789abcdef", "0123456789abcdee"));
    CHECK_FALSE(same_secret("", "0"));
    CHECK_FALSE(same_secret("0123456789abcdef0", "0123456789abcdef"));
}

TEST_CASE("only this machine's own names for itself are its host and origin") {
    CHECK(is_own_host("127.0.0.1:4711", 4711));
    CHECK(is_own_host("localhost:4711", 4711));
    for (const char* host : {"127.0.0.1", "127.0.0.1:4712", "elsewhere.invalid:4711", "127.0.0.1:4711.elsewhere.invalid", "localhost.:4711", ""})
        CHECK_FALSE(is_own_host(host, 4711));
    CHECK(is_own_origin("http://127.0.0.1:4711", 4711));
    for (const char* origin : {"null", "https://127.0.0.1:4711", "http://127.0.0.1:4711/", "http://elsewhere.invalid", "127.0.0.1:4711"})
        CHECK_FALSE(is_own_origin(origin, 4711));
}

TEST_CASE("only files within the folder are given out, links followed") {
    const TemporaryFolder folder, outside;
    write_results(folder);
    put_file(outside.file("secret.jpg"), "x");
    std::filesystem::create_symlink(outside.file("secret.jpg"), folder.file("link.jpg"));
    std::filesystem::create_directory_symlink(outside.path(), folder.file("way"));
    const std::string root = folder.path().string();
    CHECK(file_within(root, "proofs/R1-01.jpg").has_value());
    CHECK(file_within(root, "proofs/../proofs/R1-01.jpg").has_value());
    const std::string neighbour = "../" + outside.path().filename().string() + "/secret.jpg";
    REQUIRE(std::filesystem::exists(folder.path() / neighbour));
    for (const std::string& path : {neighbour, std::string("link.jpg"), std::string("way/secret.jpg"), outside.file("secret.jpg"), std::string("/etc/passwd"),
                                    std::string("proofs"), std::string(), std::string("proofs/R1-01.jpg\0.txt", 21), std::string("no-such.jpg")}) {
        INFO(path);
        CHECK_FALSE(file_within(root, path).has_value());
    }
    // A folder whose name merely begins alike is another folder.
    std::filesystem::create_directories(root + "-2");
    put_file(root + "-2/x.jpg", "x");
    CHECK_FALSE(file_within(root, "../" + folder.path().filename().string() + "-2/x.jpg").has_value());
    std::filesystem::remove_all(root + "-2");
}
