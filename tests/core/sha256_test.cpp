// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/sha256.h"
#include "basefog/core/pending_file.h"
#include "support/temporary_folder.h"

#include <catch2/catch.hpp>

using namespace basefog;

TEST_CASE("SHA-256 of the standard's examples") {
    // [FIPS180-4]; the examples NIST publishes with it: "abc", the 448-bit message, and the empty one.
    CHECK(sha256("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    CHECK(sha256("abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq") == "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1");
    CHECK(sha256("") == "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855");
}

TEST_CASE("SHA-256 of a file is that of its bytes, and what cannot be read is an error") {
    const TemporaryFolder folder;
    // The standard's third example: a million times "a" [FIPS180-4], as one file longer than a piece read at a time.
    const std::string many(1'000'000, 'a');
    REQUIRE(write_whole_file(folder.file("a"), many));
    CHECK(sha256_of_file(folder.file("a")).value() == "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0");
    REQUIRE(write_whole_file(folder.file("long"), std::string((1 << 20) + 1, 'b')));
    CHECK(sha256_of_file(folder.file("long")).value() == sha256(std::string((1 << 20) + 1, 'b')));
    CHECK(sha256_of_file(folder.file("none")).error().code == ErrorCode::not_found);
    CHECK(sha256_of_file(folder.path().string()).error().code == ErrorCode::unreadable);
}
