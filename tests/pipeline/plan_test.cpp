// SPDX-License-Identifier: GPL-3.0-or-later
#include "pipeline/plan.h"

#include "strip_of_two.h"

#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <fstream>

using namespace basefog;
using namespace basefog::pipeline;

namespace {

Sheet sheet(const std::string& path, std::vector<SheetStrip> strips) {
    Sheet entry;
    entry.file = entry.path = path;
    entry.strips = std::move(strips);
    return entry;
}

RunOptions with_ledger(std::vector<Sheet> sheets) {
    RunOptions options;
    options.ledger = Ledger{};
    options.ledger->sheets = std::move(sheets);
    return options;
}

}  // namespace

TEST_CASE("sheets that share a roll are worked on together, others apart") {
    const auto plan = make_plan(with_ledger({sheet("a.tif", {{"R1"}}), sheet("b.tif", {{"R2"}}), sheet("c.tif", {{"R3"}, {"R1"}}), sheet("d.tif", {{"R3"}})}));
    REQUIRE(plan);
    CHECK(plan->groups == std::vector<std::vector<int>>{{0, 2, 3}, {1}});
}

TEST_CASE("sheets with rolls of one stock wait for each other while memory lasts") {
    RunOptions options = with_ledger({sheet("a.tif", {{"R1"}}), sheet("b.tif", {{"R2"}}), sheet("c.tif", {{"R3"}}), sheet("d.tif", {{"R4"}})});
    for (const char* id : {"R1", "R2", "R3", "R4"}) {
        Roll roll;
        roll.id = id;
        roll.stock = std::string(id) == "R2" ? "slow" : "fast";
        options.ledger->rolls.push_back(roll);
    }
    CHECK(make_plan(options)->groups == std::vector<std::vector<int>>{{0, 2, 3}, {1}});
    options.memory_bytes = 300LL << 20;  // room for two sheets' samples
    CHECK(make_plan(options)->groups == std::vector<std::vector<int>>{{0, 2}, {1}, {3}});
    options.ledger.reset();
    options.scans = {"a.tif", "b.tif"};
    CHECK(make_plan(options)->groups == std::vector<std::vector<int>>{{0}, {1}});
}

TEST_CASE("a scan the ledger does not know is worked on and reported, one named twice is worked on once") {
    RunOptions options = with_ledger({sheet("folder/a.tif", {{"R1"}})});
    options.scans = {"elsewhere/a.tif", "b.tif", "./b.tif"};
    const auto plan = make_plan(options);
    REQUIRE(plan);
    REQUIRE(plan->sheets.size() == 2);
    CHECK(plan->sheets[0].sheet.has_value());
    CHECK_FALSE(plan->sheets[1].sheet.has_value());
    REQUIRE(plan->findings.size() == 1);
    CHECK(plan->findings[0].code == "sheet-not-in-ledger");
    CHECK(plan->findings[0].where.scan == "b.tif");
}

TEST_CASE("a camera's shot is not taken for another roll's of the same name") {
    RunOptions options = with_ledger({sheet("R1/shot-0001.dng", {{"R1"}}), sheet("scans/a.tif", {{"R3"}})});
    options.ledger->sheets[0].close_up = true;
    const TemporaryFolder folder;
    std::ofstream(folder.file("a.tif")) << "x";
    options.ledger->sheets[1].path = folder.file("a.tif");  // is where the ledger says: what else bears its name is another scan
    options.scans = {"R2/shot-0001.dng", "other/a.tif"};
    const auto plan = make_plan(options);
    REQUIRE(plan);
    REQUIRE(plan->sheets.size() == 2);
    CHECK_FALSE(plan->sheets[0].sheet.has_value());
    CHECK_FALSE(plan->sheets[1].sheet.has_value());
    CHECK(plan->findings.size() == 2);
}

TEST_CASE("two rolls of a stock shot frame by frame wait for each other as two strips' sheets do") {
    std::vector<Sheet> shots;
    for (int i = 0; i < 48; ++i) {
        shots.push_back(sheet("shot-" + std::to_string(i) + ".dng", {{i < 24 ? "R1" : "R2"}}));
        shots.back().close_up = true;
    }
    RunOptions options = with_ledger(std::move(shots));
    for (const char* id : {"R1", "R2"}) {
        Roll roll;
        roll.id = id, roll.stock = "fast";
        options.ledger->rolls.push_back(roll);
    }
    CHECK(make_plan(options)->groups.size() == 1);
    options.memory_bytes = 200LL << 20;  // room for 33 frames' samples
    CHECK(make_plan(options)->groups.size() == 2);
}

TEST_CASE("scans of the same name in different folders get different result names") {
    RunOptions options;
    options.scans = {"one/sheet.tif", "two/sheet.tif", "three/sheet.png"};
    const auto plan = make_plan(options);
    REQUIRE(plan);
    CHECK(plan->sheets[0].stem == "sheet");
    CHECK(plan->sheets[1].stem == "sheet-2");
    CHECK(plan->sheets[2].stem == "sheet-3");
}

TEST_CASE("nothing to do is a usage error") {
    const auto plan = make_plan(RunOptions{});
    REQUIRE_FALSE(plan);
    CHECK(plan.error().code == ErrorCode::usage);
}

TEST_CASE("the command line outranks the ledger's word on a scan") {
    Sheet entry = sheet("a.tif", {});
    entry.encoding = "2.2";
    entry.dpi = 300;
    RunOptions options = with_ledger({entry});
    const auto from_ledger = make_plan(options);
    REQUIRE(from_ledger);
    CHECK(from_ledger->sheets[0].scan.encoding->gamma == 2.2);
    CHECK(*from_ledger->sheets[0].scan.dpi == 300);
    options.scan.dpi = 400;
    options.scan.encoding = Encoding{};
    const auto typed = make_plan(options);
    REQUIRE(typed);
    CHECK(typed->sheets[0].scan.encoding->kind == Encoding::Kind::linear);
    CHECK(*typed->sheets[0].scan.dpi == 400);
}

TEST_CASE("a layout file that names none of the scans is refused") {
    const TemporaryFolder folder;
    const std::string path = folder.file("layout.toml");
    NamedLayout other;
    other.file = "other.tif";
    std::ofstream(path) << layout_text({other});
    RunOptions options;
    options.scans = {"a.tif"};
    options.layout_path = path;
    const auto plan = make_plan(options);
    REQUIRE_FALSE(plan);
    CHECK(plan.error().code == ErrorCode::usage);
    CHECK(plan.error().path == path);
}

TEST_CASE("without a ledger strips are named by sheet and strip, frames from 1") {
    SheetPlan plan;
    plan.file = plan.path = "x/holiday.tif";
    plan.stem = "holiday";
    SheetLayout layout;
    layout.strips = {strip_of_two(), strip_of_two()};
    std::vector<Finding> findings;
    const auto names = name_strips(plan, layout, findings);
    REQUIRE(names.size() == 2);
    CHECK(names[1].roll == "holiday-strip2");
    CHECK(names[1].numbers == std::vector<int>{1, 2});
    CHECK(findings.empty());
}

TEST_CASE("film and ledger that disagree on the number of strips are reported and nothing is lost") {
    SheetPlan plan;
    plan.file = plan.path = "a.tif";
    plan.stem = "a";
    plan.sheet = sheet("a.tif", {{"R1", 1}});
    SheetLayout layout;
    layout.strips = {strip_of_two(), strip_of_two()};
    std::vector<Finding> findings;
    const auto names = name_strips(plan, layout, findings);
    CHECK(names[0].roll == "R1");
    CHECK(names[1].roll == "a-strip2");
    REQUIRE(findings.size() == 1);
    CHECK(findings[0].code == "strip-count-differs");
}

TEST_CASE("names from a ledger cannot leave the output folder") {
    CHECK(safe_name("R1") == "R1");
    CHECK(safe_name("../../etc/passwd") == "_.._.._etc_passwd");
    CHECK(safe_name("") == "_");
    CHECK(safe_name("-rf") == "_-rf");
    CHECK(safe_name(std::string(500, 'x')).size() <= 81);
    CHECK(safe_name("a/b\\c:d\n\"").find_first_of("/\\:\n\"") == std::string::npos);
    CHECK(safe_name("Rolle-\xc3\xa4") == "Rolle-__");
}
