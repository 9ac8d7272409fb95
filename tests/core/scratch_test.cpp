// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/scratch.h"

#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <numeric>
#include <vector>

using namespace basefog;

namespace {

struct Notices final : Observer {
    std::vector<std::string> all;
    void notice(const std::string& message) override { all.push_back(message); }
};

std::vector<int> numbers(int n, int from) {
    std::vector<int> values(static_cast<std::size_t>(n));
    std::iota(values.begin(), values.end(), from);
    return values;
}

}  // namespace

TEST_CASE("what is put on a shelf is got back, in memory and in the file alike") {
    const TemporaryFolder folder;
    Notices observer;
    constexpr int kCount = 3000;  // three pages and a bit
    constexpr std::int64_t kBytes = kCount * sizeof(int);
    Scratch scratch(folder.path().string(), kBytes, "sheet.tif", observer);
    std::vector<Shelf> shelves;
    for (int i = 0; i < 4; ++i) {
        auto shelf = scratch.take(kBytes);
        REQUIRE(shelf);
        REQUIRE(shelf->put(0, numbers(kCount, i * kCount).data(), kBytes));
        shelves.push_back(std::move(*shelf));
    }
    for (int i = 0; i < 4; ++i) {
        std::vector<int> got(10);
        REQUIRE(shelves[static_cast<std::size_t>(i)].get(2000 * sizeof(int), got.data(), 40));
        CHECK(got == numbers(10, i * kCount + 2000));
    }
    CHECK(observer.all.size() == 1);  // once, however many go into the file
    CHECK(observer.all.at(0).find("sheet.tif") != std::string::npos);
    CHECK(folder.count() == 0);  // the file has no name
}

TEST_CASE("memory of a shelf is given back with it") {
    const TemporaryFolder folder;
    Notices observer;
    Scratch scratch(folder.path().string(), 1000, "sheet.tif", observer);
    for (int i = 0; i < 5; ++i) {
        CHECK(scratch.fits(1000));
        const auto shelf = scratch.take(600);
        REQUIRE(shelf);
        CHECK_FALSE(scratch.fits(500));
        CHECK(scratch.fits(300, 100));
        CHECK_FALSE(scratch.fits(300, 101));
    }
    CHECK(observer.all.empty());
    const auto kept_free = scratch.take(600, 500);  // would leave too little
    REQUIRE(kept_free);
    CHECK(observer.all.size() == 1);
    CHECK(scratch.fits(1000));
}

TEST_CASE("a shelf that outgrows memory needs a folder that is there") {
    const TemporaryFolder folder;
    Scratch scratch(folder.file("none"), 10, "sheet.tif", silent_observer());
    REQUIRE(scratch.take(10));
    const auto failed = scratch.take(11);
    REQUIRE_FALSE(failed);
    CHECK(failed.error().code == ErrorCode::unwritable);
    CHECK(failed.error().path == folder.file("none"));
}
