// SPDX-License-Identifier: GPL-3.0-or-later
// Pairs of invented sheets, with and without dust, scratches and backing, same seed: mended, the dirty one should look like the clean one.
#include "basefog/mend/mend.h"

#include "mend/pair.h"

#include <catch2/catch.hpp>
#include <cmath>

using namespace basefog;
using namespace mend_pair;

/// Of the issue: grain within a quarter of its surroundings'.
constexpr double kGrainMargin = 0.25;

TEST_CASE("with infrared the error inside defects falls to a quarter, and nothing else changes") {
    Tally all;
    Grain divided, filled;
    for (std::uint64_t seed = 31; seed <= 33; ++seed) {
        const std::vector<MendedFrame> frames = mended_pair(seed, true, MendMode::safe);
        all.add(frames);
        divided.add(frames, Mended::divided);
        filled.add(frames, Mended::filled);
    }
    INFO("error before " << all.before() << " after " << all.after() << " pixels " << all.inside << " changed outside " << all.changed_outside << " of "
                         << all.outside);
    CHECK(all.inside > 2000);
    CHECK(all.before() > 4 * all.after());
    CHECK(all.changed_outside == 0);
    INFO("grain of divided " << divided.ratio() << " over " << divided.n << ", of filled " << filled.ratio() << " over " << filled.n);
    CHECK(divided.n > 2000);
    CHECK(filled.n > 200);
    CHECK(divided.ratio() == Approx(1).margin(kGrainMargin));
    CHECK(filled.ratio() == Approx(1).margin(kGrainMargin));
}
