// SPDX-License-Identifier: GPL-3.0-or-later
#include "files.h"

#include <catch2/catch.hpp>

#include <algorithm>

using namespace basefog::test;

TEST_CASE("loops for wider processors give the same bits as those for any") {
    const std::string narrow = output_of(BASEFOG_PIXELS_narrow), widest = output_of(BASEFOG_PIXELS_widest);
    CHECK(std::count(narrow.begin(), narrow.end(), '\n') == 28);
    CHECK(narrow == widest);
}
