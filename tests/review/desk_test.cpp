// SPDX-License-Identifier: GPL-3.0-or-later
#include "review/desk.h"
#include "review/results.h"

#include <catch2/catch.hpp>

#include <algorithm>

using namespace basefog;
using review::Desk;
using Json = nlohmann::json;

namespace {

review::DeskPaths paths_in(const TemporaryFolder& folder) { return {folder.path().string(), folder.file("layout.toml"), folder.file("print.toml")}; }

Desk opened(const TemporaryFolder& folder) {
    auto desk = Desk::open(paths_in(folder));
    INFO((desk ? std::string() : describe(desk.error())));
    REQUIRE(desk);
    return std::move(*desk);
}
Json sheets_of(const Desk& desk) { return Json::parse(desk.state().dump())["sheets"]; }

}  // namespace

TEST_CASE("the desk holds what the run found, scans that failed left out") {
    const TemporaryFolder folder;
    const RunRecord record = sample::rich();
    write_results(folder, record);
    const Desk desk = opened(folder);
    const Json sheets = sheets_of(desk);
    REQUIRE(sheets.size() == 2);
    CHECK(sheets[0]["file"] == "harbour-1.tif");
    REQUIRE(sheets[0]["strips"].size() == 4);
    CHECK(sheets[0]["strips"][2]["roll"] == "R2");
    const Json& frame = sheets[0]["strips"][3]["frames"][2];
    const FrameBox& box = record.scans[0].strips[3].frames[2].box;
    CHECK(frame["number"] == 9);
    CHECK(frame["confidence"].get<double>() == Approx(0.61));
    for (std::size_t i = 0; i < 4; ++i) {
        CHECK(frame["corners"][i][0].get<double>() == Approx(box.corners[i].x).margin(0.0051));
        CHECK(frame["corners"][i][1].get<double>() == Approx(box.corners[i].y).margin(0.0051));
    }
    CHECK(sheets[1]["strips"][0]["direction"] == "vertical");
    CHECK_FALSE(desk.stale());
}

TEST_CASE("saving writes a layout a run reads, in which only what was moved counts as set by hand") {
    const TemporaryFolder folder;
    write_results(folder);
    Desk desk = opened(folder);
    Json sheets = sheets_of(desk);
    sheets[0]["strips"][0]["frames"][1]["corners"][0][0] = sheets[0]["strips"][0]["frames"][1]["corners"][0][0].get<double>() - 7.25;
    sheets[0]["strips"][0]["roll"] = "R1 \"bis\"";
    sheets[0]["strips"][2]["frames"].erase(5);
    const auto saved = desk.save({{"sheets", sheets}}, desk.revision());
    INFO((saved ? std::string() : describe(saved.error())));
    REQUIRE(saved);
    const auto layouts = read_layouts(folder.file("layout.toml"));
    REQUIRE(layouts);
    REQUIRE(layouts->size() == 2);
    const NamedLayout& first = (*layouts)[0];
    CHECK(first.names[0].roll == "R1 \"bis\"");
    CHECK(first.layout.strips[0].frames[1].by_hand);
    CHECK_FALSE(first.layout.strips[0].frames[0].by_hand);
    CHECK(first.layout.strips[0].frames[3].by_hand);  // it was before
    CHECK(first.layout.strips[3].frames[2].placed_by_pitch);
    CHECK(first.layout.strips[3].frames[2].confidence == Approx(0.61));
    CHECK(first.layout.strips[2].frames.size() == 5);
    CHECK(first.layout.scale.value() == Approx(sample::kPxPerMm).epsilon(1e-4));
    // And the desk opens with it the next time.
    CHECK(sheets_of(opened(folder)) == sheets_of(desk));
}

TEST_CASE("nothing is written before saving, nor when what is sent is refused") {
    const TemporaryFolder folder;
    write_results(folder);
    Desk desk = opened(folder);
    const int before = desk.revision();
    CHECK_FALSE(std::filesystem::exists(folder.file("layout.toml")));
    const auto refused = [&](auto change) {
        Json sheets = sheets_of(desk);
        change(sheets);
        const auto saved = desk.save({{"sheets", sheets}}, desk.revision());
        REQUIRE_FALSE(saved);
        CHECK(saved.error().code == ErrorCode::malformed);
        CHECK_FALSE(std::filesystem::exists(folder.file("layout.toml")));
        CHECK(desk.revision() == before);
        return describe(saved.error());
    };
    // Two frames over each other, one number twice, corners that span no frame, a frame outside its strip.
    CHECK(refused([](Json& s) { s[0]["strips"][0]["frames"][1]["corners"] = s[0]["strips"][0]["frames"][0]["corners"]; }).find("lie over each other") !=
          std::string::npos);
    CHECK(refused([](Json& s) { s[0]["strips"][0]["frames"][1]["number"] = 1; }).find("number 1") != std::string::npos);
    refused([](Json& s) { s[0]["strips"][0]["frames"][1]["corners"][2] = s[0]["strips"][0]["frames"][1]["corners"][0]; });
    refused([](Json& s) { s[0]["strips"][0]["frames"][1]["corners"] = s[0]["strips"][2]["frames"][1]["corners"]; });
    refused([](Json& s) { s[0]["strips"][0]["frames"][1]["corners"][2][0] = nullptr; });
    refused([](Json& s) { s[0]["strips"][0]["frames"][1]["kind"] = "odd"; });
    refused([](Json& s) { s[0]["strips"][0]["frames"][1].erase("number"); });
    refused([](Json& s) { s = "x"; });
}

TEST_CASE("a layout that changed on disk, or a page that is behind, is noticed and nothing is lost") {
    const TemporaryFolder folder;
    write_results(folder);
    Desk desk = opened(folder);
    const Json sheets = sheets_of(desk);
    REQUIRE(desk.save({{"sheets", sheets}}, desk.revision()));
    const auto behind = desk.save({{"sheets", sheets}}, desk.revision() - 1);
    REQUIRE_FALSE(behind);
    CHECK(behind.error().code == ErrorCode::usage);
    const std::string edited = file_content(folder.file("layout.toml")) + "# a person was here\n";
    put_file(folder.file("layout.toml"), edited);
    CHECK(desk.stale());
    CHECK_FALSE(desk.save({{"sheets", sheets}}, desk.revision()));
    CHECK(file_content(folder.file("layout.toml")) == edited);
    const int before = desk.revision();
    REQUIRE(desk.reload());
    CHECK(desk.revision() > before);
    CHECK_FALSE(desk.stale());
    CHECK(desk.save({{"sheets", sheets}}, desk.revision()));
}

TEST_CASE("folders and layouts that are none are said to be none") {
    const TemporaryFolder folder;
    CHECK(Desk::open(paths_in(folder)).error().code == ErrorCode::not_found);
    put_file(folder.file("report.json"), "{\"scans\": 3}");
    CHECK(Desk::open(paths_in(folder)).error().code == ErrorCode::malformed);
    write_results(folder);
    put_file(folder.file("layout.toml"), "[[sheet]\n");
    CHECK(Desk::open(paths_in(folder)).error().code == ErrorCode::malformed);
}

namespace {

constexpr const char* kRunSettings = R"([output]
profile = "wide"

[print]
exposure = 0

[roll.R1]
print = { balance = "roll", exposure = 0.25, contrast = 1, black_point = -7, saturation = 1 }
frames = [
  { number = 2, print = { balance = "roll", exposure = -0.5, contrast = 1, black_point = -7, saturation = 1 } },
]
)";

/// A run that made positives, and the settings it wrote.
void write_results_with_settings(const TemporaryFolder& folder) {
    RunRecord record = sample::rich();
    record.settings_file = "settings.toml";
    write_results(folder, record);
    put_file(folder.file("settings.toml"), kRunSettings);
}
Json page_of(const Desk& desk) {
    const Json state = Json::parse(desk.state().dump());
    return {{"sheets", state["sheets"]}, {"rolls", state["rolls"]}};
}
Settings saved_settings(const TemporaryFolder& folder) {
    auto settings = read_settings(folder.file("print.toml"));
    INFO((settings ? std::string() : describe(settings.error())));
    REQUIRE(settings);
    return std::move(*settings);
}
const RollPrintChoices& roll_in(const Settings& settings, const std::string& name) {
    const auto found = std::find_if(settings.rolls.begin(), settings.rolls.end(), [&](const auto& roll) { return roll.roll == name; });
    REQUIRE(found != settings.rolls.end());
    return *found;
}

}  // namespace

TEST_CASE("the page has each roll's choices whole, and of a frame only what is its own") {
    const TemporaryFolder folder;
    write_results(folder);
    CHECK(page_of(opened(folder))["rolls"].is_null());  // no positives, nothing to choose
    write_results_with_settings(folder);
    const Json page = page_of(opened(folder));
    CHECK(page["rolls"]["R1"]["exposure"] == 0.25);
    CHECK(page["rolls"]["R1"]["balance"]["by"] == "roll");
    CHECK(page["rolls"]["R2"]["black_point"] == -7);
    CHECK(page["sheets"][0]["strips"][0]["frames"][0]["print"] == Json::object());
    CHECK(page["sheets"][0]["strips"][0]["frames"][1]["print"] == Json({{"exposure", -0.5}}));
}

TEST_CASE("choices of print are saved as settings a run reads, and the layout is left alone") {
    const TemporaryFolder folder;
    write_results_with_settings(folder);
    Desk desk = opened(folder);
    Json page = page_of(desk);
    page["rolls"]["R1"]["contrast"] = 1.2;
    page["sheets"][0]["strips"][0]["frames"][1]["print"] = Json::object();
    page["sheets"][0]["strips"][0]["frames"][2]["print"] = {{"balance", {{"by", "patch"}, {"patch", {0.1, 0.2, 0.3, 0.4}}}}};
    const auto saved = desk.save(page, desk.revision());
    INFO((saved ? std::string() : describe(saved.error())));
    REQUIRE(saved);
    CHECK(*saved == std::vector<std::string>{"print.toml"});
    CHECK_FALSE(std::filesystem::exists(folder.file("layout.toml")));
    const Settings settings = saved_settings(folder);
    CHECK(settings.output.profile == "wide");
    const RollPrintChoices& roll = roll_in(settings, "R1");
    CHECK(roll.print.contrast == 1.2);
    REQUIRE(roll.frames.size() == 1);
    CHECK(roll.frames[0].number == 3);
    CHECK(roll.frames[0].print.balance->by == BalanceChoice::By::patch);
    CHECK(roll.frames[0].print.balance->patch == BalanceChoice::Patch{0.1, 0.2, 0.3, 0.4});
    CHECK(roll.frames[0].print.contrast == 1.2);
    CHECK(page_of(opened(folder)) == page_of(desk));
    CHECK(desk.save(page_of(desk), desk.revision())->empty());  // nothing differs: nothing is written
}

TEST_CASE("a frame the ledger speaks of is written down even where it is as its roll") {
    const TemporaryFolder folder;
    write_results_with_settings(folder);
    auto desk = Desk::open(paths_in(folder), [](const std::string& roll, int number) { return roll == "R1" && number == 1; });
    REQUIRE(desk);
    Json page = page_of(*desk);
    page["rolls"]["R1"]["exposure"] = 1;
    REQUIRE(desk->save(page, desk->revision()));
    const RollPrintChoices roll = roll_in(saved_settings(folder), "R1");
    REQUIRE(roll.frames.size() == 2);
    CHECK(roll.frames[0].number == 1);
    CHECK(roll.frames[0].print.exposure == Stops(1));
    CHECK(roll.frames[1].print.exposure == Stops(-0.5));
}

TEST_CASE("choices that no settings file may hold are refused, and neither file is written") {
    const TemporaryFolder folder;
    write_results_with_settings(folder);
    Desk desk = opened(folder);
    const std::vector<std::pair<const char*, Json>> wrong{{"exposure", 11},
                                                          {"exposure", "bright"},
                                                          {"contrast", 0},
                                                          {"black_point", 0},
                                                          {"saturation", -1},
                                                          {"balance", {{"by", "magic"}}},
                                                          {"balance", {{"by", "numbers"}, {"stops", {1, 2}}}},
                                                          {"balance", {{"by", "patch"}, {"patch", {0.5, 0.5, 0.4, 0.6}}}},
                                                          {"hue", 1}};
    for (const auto& [key, value] : wrong) {
        Json page = page_of(desk);
        page["sheets"][0]["strips"][0]["frames"][0]["corners"][0][0] = page["sheets"][0]["strips"][0]["frames"][0]["corners"][0][0].get<double>() - 3;
        page["sheets"][0]["strips"][0]["frames"][0]["print"] = {{key, value}};
        INFO(page["sheets"][0]["strips"][0]["frames"][0]["print"].dump());
        const auto saved = desk.save(page, desk.revision());
        REQUIRE_FALSE(saved);
        CHECK(saved.error().code == ErrorCode::malformed);
        CHECK_FALSE(std::filesystem::exists(folder.file("layout.toml")));
        CHECK_FALSE(std::filesystem::exists(folder.file("print.toml")));
    }
    // A roll's patch must say in which frame it lies.
    Json page = page_of(desk);
    page["rolls"]["R1"]["balance"] = {{"by", "patch"}, {"patch", {0.1, 0.2, 0.3, 0.4}}};
    CHECK_FALSE(desk.save(page, desk.revision()));
}

TEST_CASE("where one of two files cannot be written, the other is as it was") {
    const TemporaryFolder folder;
    write_results_with_settings(folder);
    auto desk = Desk::open({folder.path().string(), folder.file("layout.toml"), folder.file("no-such-folder/print.toml")});
    REQUIRE(desk);
    for (const bool there : {false, true}) {
        if (there)
            REQUIRE(desk->save({{"sheets",
                                 [&] {
                                     Json sheets = sheets_of(*desk);
                                     sheets[0]["strips"][0]["frames"][0]["kind"] = "fogged";
                                     return sheets;
                                 }()}},
                               desk->revision()));
        const std::string before = there ? file_content(folder.file("layout.toml")) : std::string();
        Json page = page_of(*desk);
        page["rolls"]["R1"]["exposure"] = 1.5;
        page["sheets"][0]["strips"][0]["frames"][1]["kind"] = "fogged";
        CHECK_FALSE(desk->save(page, desk->revision()));
        CHECK(std::filesystem::exists(folder.file("layout.toml")) == there);
        CHECK(file_content(folder.file("layout.toml")) == before);
    }
}

TEST_CASE("settings that changed on disk are noticed") {
    const TemporaryFolder folder;
    write_results_with_settings(folder);
    Desk desk = opened(folder);
    put_file(folder.file("print.toml"), kRunSettings);
    CHECK(desk.stale());
    CHECK_FALSE(desk.save(page_of(desk), desk.revision()));
    REQUIRE(desk.reload());
    CHECK_FALSE(desk.stale());
    put_file(folder.file("print.toml"), "[print]\nexposure = \"bright\"\n");
    CHECK(desk.reload().error().code == ErrorCode::malformed);
}
