// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/core/geometry.h"

#include <catch2/catch.hpp>

using namespace basefog;

TEST_CASE("bounds are half-open, whole, and hold the quad") {
    const Quad q{PointPx{1.2, 2.7}, PointPx{5.5, 2.0}, PointPx{5.0, 4.0}, PointPx{1.0, 4.5}};
    CHECK(bounds(q) == PxRect{1, 2, 6, 5});
    CHECK(bounds(q, 1) == PxRect{0, 1, 7, 6});
    CHECK(bounds(q).width() == 5);
}

TEST_CASE("a position inside a quad runs from corner to corner") {
    const Quad q{PointPx{0, 0}, PointPx{4, 0}, PointPx{4, 2}, PointPx{0, 2}};
    CHECK(inside(q, 0, 0) == q[0]);
    CHECK(inside(q, 1, 0) == q[1]);
    CHECK(inside(q, 1, 1) == q[2]);
    CHECK(inside(q, 0.5, 0.5) == centre(q));
}

TEST_CASE("contains works for either winding and counts the edge in") {
    Quad q{PointPx{0, 0}, PointPx{4, 0}, PointPx{4, 2}, PointPx{0, 2}};
    CHECK(contains(q, {2, 1}));
    CHECK(contains(q, {0, 0}));
    CHECK_FALSE(contains(q, {4.01, 1}));
    std::swap(q[1], q[3]);
    CHECK(contains(q, {2, 1}));
    CHECK_FALSE(contains(q, {2, -0.1}));
}

TEST_CASE("rectangles that do not meet have an empty intersection") {
    CHECK(intersection({0, 0, 4, 4}, {4, 0, 8, 4}).empty());
    CHECK(intersection({0, 0, 4, 4}, {3, 1, 8, 2}) == PxRect{3, 1, 4, 2});
}
