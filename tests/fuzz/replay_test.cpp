// SPDX-License-Identifier: GPL-3.0-or-later
// Every case the fuzzer starts from, and every one that once broke a reader, without the fuzzer: each must end in a value or an error.
// A reader that fails ends the whole test, which names the file it was at.
#include "fuzz/targets.h"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <random>
#include <string>

using namespace basefog;
namespace fs = std::filesystem;

namespace {

constexpr std::uint32_t kDamaged = 300;  // copies of each case

std::string content(const fs::path& path) {
    std::ifstream in(path, std::ios::binary);
    return {std::istreambuf_iterator<char>(in), {}};
}

/// Some bytes changed, taken out or put in. Fixed seeds; the engine's output is defined by the standard.
std::string damaged(std::string bytes, std::uint32_t seed) {
    std::mt19937 random(seed);
    for (std::uint32_t edits = 1 + random() % 6; edits > 0 && !bytes.empty(); --edits) {
        const std::size_t at = random() % bytes.size();
        switch (random() % 3) {
            case 0:
                bytes[at] = static_cast<char>(random() % 256);
                break;
            case 1:
                bytes.erase(at, random() % 9);
                break;
            default:
                bytes.insert(at, 1 + random() % 4, random() % 2 == 0 ? '\xFF' : static_cast<char>(random() % 128));
        }
    }
    return bytes;
}

/// Each of a target's files whole, cut off at every eighth of its length, and damaged at random.
int replay(std::string_view name) {
    int cases = 0;
    for (const fuzz::Target& target : fuzz::kTargets)
        if (target.name == name)
            for (const auto& entry : fs::directory_iterator(fs::path(BASEFOG_TESTDATA) / "fuzz" / name)) {
                const std::string bytes = content(entry.path());
                INFO(entry.path().string());
                target.feed(bytes);
                for (std::uint32_t seed = 0; seed < kDamaged; ++seed) target.feed(damaged(bytes, seed));
                for (std::size_t eighth = 0; eighth < 8; ++eighth) target.feed(std::string_view(bytes).substr(0, bytes.size() * eighth / 8));
                ++cases;
            }
    return cases;
}

}  // namespace

TEST_CASE("cases of the TIFF reader") { CHECK(replay("tiff") >= 8); }
TEST_CASE("cases of the RAW reader") { CHECK(replay("raw") >= 2); }
TEST_CASE("cases of the PNG and JPEG readers") { CHECK(replay("picture") >= 4); }
TEST_CASE("cases of the reader of scans' profiles") { CHECK(replay("profile") >= 5); }
TEST_CASE("cases of the reader of positives' profiles") { CHECK(replay("output_profile") >= 3); }
TEST_CASE("cases of the ledger reader") { CHECK(replay("ledger") >= 2); }
TEST_CASE("cases of the settings reader") { CHECK(replay("settings") >= 1); }
TEST_CASE("cases of the layout reader") { CHECK(replay("layout") >= 1); }
TEST_CASE("cases of names in reports") { CHECK(replay("names") >= 2); }
