// SPDX-License-Identifier: GPL-3.0-or-later
// Every case the fuzzer starts from, and every one that once broke a reader, without the fuzzer: each must end in a value or an error.
// A reader that fails ends the whole test, which names the file it was at.
#include "fuzz/targets.h"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <string>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

std::string content(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

/// Each of a target's files whole, then cut off at every eighth of its length.
int replay(std::string_view name) {
    int cases = 0;
    for (const fuzz::Target& target : fuzz::kTargets)
        if (target.name == name)
            for (const auto& entry : fs::directory_iterator(fs::path(BASEFOG_TESTDATA) / "fuzz" / name)) {
                const std::string bytes = content(entry.path());
                INFO(entry.path().string());
                target.feed(bytes);
                for (std::size_t eighth = 0; eighth < 8; ++eighth) target.feed(std::string_view(bytes).substr(0, bytes.size() * eighth / 8));
                ++cases;
            }
    return cases;
}

}  // namespace

TEST_CASE("cases of the TIFF reader") { CHECK(replay("tiff") >= 8); }
TEST_CASE("cases of the RAW reader") { CHECK(replay("raw") >= 2); }
TEST_CASE("cases of the PNG and JPEG readers") { CHECK(replay("picture") >= 4); }
TEST_CASE("cases of the reader of scans' profiles") { CHECK(replay("profile") >= 3); }
TEST_CASE("cases of the reader of positives' profiles") { CHECK(replay("output_profile") >= 3); }
TEST_CASE("cases of the ledger reader") { CHECK(replay("ledger") >= 2); }
TEST_CASE("cases of the settings reader") { CHECK(replay("settings") >= 1); }
TEST_CASE("cases of the layout reader") { CHECK(replay("layout") >= 1); }
TEST_CASE("cases of names in reports") { CHECK(replay("names") >= 2); }
