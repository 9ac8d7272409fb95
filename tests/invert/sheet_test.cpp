// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/invert/write.h"

#include <catch2/catch.hpp>
#include <set>

using namespace basefog;

namespace {
/// Left and top edges of the places where the page shows the marker colour.
struct Edges {
    std::set<std::int64_t> lefts, tops;
    std::int64_t pixels = 0;
};
Edges find(const Image<EncodedRgb8>& page) {
    const auto marked = [&](std::int64_t x, std::int64_t y) { return x >= 0 && y >= 0 && page(x, y).r == 255 && page(x, y).g == 0 && page(x, y).b == 255; };
    Edges edges;
    for (std::int64_t y = 0; y < page.height(); ++y)
        for (std::int64_t x = 0; x < page.width(); ++x) {
            if (!marked(x, y)) continue;
            ++edges.pixels;
            if (!marked(x - 1, y) && !marked(x, y - 1)) {
                edges.lefts.insert(x);
                edges.tops.insert(y);
            }
        }
    return edges;
}
std::set<std::int64_t> steps(const std::set<std::int64_t>& at) {
    std::set<std::int64_t> out;
    for (auto it = at.begin(); it != at.end() && std::next(it) != at.end(); ++it) out.insert(*std::next(it) - *it);
    return out;
}
}  // namespace

TEST_CASE("a contact sheet is an even grid of six, inside its page") {
    const Image<EncodedRgb8> frame(600, 400, EncodedRgb8{255, 0, 255});
    for (const int count : {1, 4, 6, 7, 36}) {
        const std::vector<ContactItem> items(static_cast<std::size_t>(count), ContactItem{frame.view(), "7  +1.3 stops"});
        const Image<EncodedRgb8> page = compose_contact_sheet("Roll R1", items);
        const Edges edges = find(page);
        CAPTURE(count);
        CHECK(edges.lefts.size() == static_cast<std::size_t>(std::min(count, 6)));
        CHECK(edges.tops.size() == static_cast<std::size_t>((count + 5) / 6));
        CHECK(steps(edges.lefts).size() <= 1);
        CHECK(steps(edges.tops).size() <= 1);
        CHECK(edges.pixels % count == 0);  // every picture whole
        CHECK(edges.pixels / count > 340 * 220);
        CHECK(page(0, 0).r == page(page.width() - 1, page.height() - 1).r);
    }
}

TEST_CASE("contact sheets take any pictures and any words") {
    const Image<EncodedRgb8> tall(200, 300, EncodedRgb8{10, 200, 30}), wide(300, 100, EncodedRgb8{200, 30, 30}), dot(1, 1);
    const std::vector<ContactItem> items{{tall.view(),
                                          "Gr\xC3\xBC\xC3\x9F"
                                          "e \xE2\x80\x93 12"},
                                         {wide.view(), std::string(400, 'w')},
                                         {dot.view(), ""},
                                         {View<const EncodedRgb8>(), "absent \xFF\xE2"}};
    const Image<EncodedRgb8> page = compose_contact_sheet(std::string(1000, 'M'), items);
    CHECK(page.width() > 4 * 300);
    CHECK(page.height() < 1000);
    const Image<EncodedRgb8> none = compose_contact_sheet("", {});
    CHECK_FALSE(none.empty());
}
