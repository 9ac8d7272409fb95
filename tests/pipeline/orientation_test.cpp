// SPDX-License-Identifier: GPL-3.0-or-later
#include "pipeline/orientation.h"

#include "strip_of_two.h"

#include <algorithm>
#include <catch2/catch.hpp>

using namespace basefog;
using namespace basefog::pipeline;

namespace {

EdgePrint numbers(bool mirrored, bool turned) {
    EdgePrint print;
    print.kind = EdgePrint::Kind::numbers;
    print.text = "7 8";
    print.mirrored = mirrored;
    print.turned = turned;
    print.confidence = 1;
    return print;
}

EdgePrint code(bool backwards, bool below) {
    EdgePrint print;
    print.kind = EdgePrint::Kind::machine_code;
    print.text = "482015103400";
    print.code_backwards = backwards;
    print.code_below = below;
    return print;
}

struct Oriented {
    std::vector<StripBox> strips;
    std::vector<Finding> findings;
    [[nodiscard]] bool has(const std::string& code) const {
        return std::any_of(findings.begin(), findings.end(), [&](const Finding& f) { return f.code == code; });
    }
};
/// Strips with this print, told of like this in the ledger.
Oriented orient(const std::vector<EdgePrint>& prints, std::vector<SheetStrip> told) {
    SheetPlan plan;
    plan.file = plan.path = "a.tif";
    if (!told.empty()) {
        plan.sheet = Sheet{};
        plan.sheet->strips = std::move(told);
    }
    SheetLayout layout;
    for (const EdgePrint& print : prints) {
        layout.strips.push_back(strip_of_two());
        layout.strips.back().edge_print = print;
    }
    Oriented out;
    orient_strips(plan, layout, out.findings);
    out.strips = std::move(layout.strips);
    return out;
}

SheetStrip strip_of(std::string roll, std::optional<bool> flip = {}, std::optional<bool> turn = {}) { return {std::move(roll), 7, flip, turn}; }

}  // namespace

TEST_CASE("turned and flipped strips are read from the other end, with their corners turned along") {
    const auto frames = [](bool flip, bool turn) { return orient({EdgePrint{}}, {strip_of("R1", flip, turn)}).strips[0].frames; };
    const auto plain = frames(false, false), turned = frames(false, true), flipped = frames(true, false), both = frames(true, true);
    CHECK(plain[0].corners[0] == PointPx{5, 5});
    // Turned by 180 degrees: the last frame comes first, its bottom-right corner is read as its top-left.
    CHECK(turned[0].corners[0] == PointPx{95, 25});
    CHECK(turned[0].corners[1] == PointPx{55, 25});
    // Mirrored: the last frame first, left and right changed places.
    CHECK(flipped[0].corners[0] == PointPx{95, 5});
    CHECK(flipped[0].corners[3] == PointPx{95, 25});
    // Both: the order is kept, top and bottom changed places.
    CHECK(both[0].corners[0] == PointPx{5, 25});
    CHECK(both[0].corners[1] == PointPx{45, 25});
}

TEST_CASE("printed frame numbers set a strip right where the ledger is silent, and it is said") {
    for (const bool mirrored : {false, true})
        for (const bool turned : {false, true})
            for (const std::vector<SheetStrip>& told : {std::vector<SheetStrip>{}, std::vector<SheetStrip>{strip_of("R1")}}) {
                CAPTURE(mirrored, turned, told.size());
                const Oriented by_print = orient({numbers(mirrored, turned)}, told);
                const Oriented by_ledger = orient({EdgePrint{}}, {strip_of("R1", mirrored, turned)});
                CHECK(by_print.strips[0].frames == by_ledger.strips[0].frames);
                CHECK(by_print.has("strip-oriented-by-print") == (mirrored || turned));
                CHECK(by_print.findings.size() == (mirrored || turned ? 1 : 0));
            }
}

TEST_CASE("the ledger outranks print, and a contradiction is a caution") {
    const Oriented agreed = orient({numbers(true, false)}, {strip_of("R1", true)});
    CHECK(agreed.findings.empty());
    const Oriented against = orient({numbers(true, false)}, {strip_of("R1", false, true)});
    REQUIRE(against.has("edge-print-contradicts-ledger"));
    CHECK(against.findings[0].severity == Severity::caution);
    CHECK(against.strips[0].frames == orient({EdgePrint{}}, {strip_of("R1", false, true)}).strips[0].frames);
}

TEST_CASE("key codes tell strips apart but turn none") {
    const auto untouched = [](const Oriented& out) { return out.strips[0].frames == strip_of_two().frames && out.strips[1].frames == strip_of_two().frames; };
    SECTION("alike") { CHECK(orient({code(false, true), code(false, true)}, {strip_of("R1"), strip_of("R1")}).findings.empty()); }
    SECTION("one roll, one strip the other way round") {
        const Oriented out = orient({code(false, true), code(true, false)}, {strip_of("R1"), strip_of("R1")});
        CHECK(out.has("strips-lie-differently"));
        CHECK(untouched(out));
    }
    SECTION("two rolls may have been spooled in different directions") {
        CHECK(orient({code(false, true), code(true, false)}, {strip_of("R1"), strip_of("R2")}).findings.empty());
    }
    SECTION("a mirror image is seen across rolls, and without a ledger") {
        CHECK(orient({code(false, true), code(true, true)}, {strip_of("R1"), strip_of("R2")}).has("strips-lie-differently"));
        CHECK(orient({code(false, true), code(true, true)}, {}).has("strips-lie-differently"));
    }
    SECTION("a strip the ledger sets right agrees with the others") {
        CHECK(orient({code(false, true), code(true, false)}, {strip_of("R1"), strip_of("R1", {}, true)}).findings.empty());
        CHECK(orient({code(false, true), code(true, true)}, {strip_of("R1"), strip_of("R1", true)}).findings.empty());
    }
}
