// SPDX-License-Identifier: GPL-3.0-or-later
// Reports come from anywhere: what is right is read, what is not is refused or counts as not known, and nothing breaks.
#include "basefog/history/find_trends.h"
#include "basefog/history/read_results.h"

#include "support/synthetic_history.h"
#include "support/synthetic_random.h"
#include "support/temporary_folder.h"

#include <catch2/catch.hpp>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>

using namespace basefog;
using Json = nlohmann::json;

namespace {

const std::string& report() {
    static const std::string text = synthetic::simulate_years({}).sessions.at(2).json;
    return text;
}
Result<std::vector<HistoryRoll>> parsed(const Json& json) { return parse_results(json.dump(), "report.json", "/r/report.html"); }

}  // namespace

TEST_CASE("a report's rolls: what was told and what was measured") {
    const Json json = Json::parse(report());
    const auto rolls = parsed(json).value();
    REQUIRE(rolls.size() == json["rolls"].size());
    const Json& first = json["rolls"][0];
    const HistoryRoll& roll = rolls[0];
    CHECK(roll.roll == first["id"]);
    CHECK(to_string(*roll.session_date) == json["sessions"][0]["date"]);
    CHECK(*roll.base_blue == first["base_density"][2]);
    CHECK(*roll.slope_green == first["film"]["slope"][1]);
    CHECK(*roll.residue_area_percent == first["residue"]["area_percent"]);
    CHECK(*roll.rolls_done_before == first["rolls_done_before_in_bath"]);
    CHECK(*roll.bath_good_for_rolls == 16);
    CHECK(roll.process == "C-41");
    CHECK(*roll.strips == 6);
    CHECK(roll.sheets.size() == 1);
    CHECK(roll.report == "/r/report.html");
    CHECK(*roll.report_place == 1);
}

TEST_CASE("values that were assumed, mean nothing or lie out of range count as not known") {
    Json json = Json::parse(report());
    Json& roll = json["rolls"][0];
    roll["film"]["uncertainty"]["slope"][0]["flags"] = {"assumed"};
    roll["uncertainty"]["base_density"][1]["flags"] = {"relative"};
    roll["base_density"][2] = 40;
    roll["residue"]["area_percent"] = nullptr;
    roll["told"]["rating"] = "two hundred";
    roll["told"]["reel"] = 1.5;
    roll["bath_age_days"] = -2000000000;
    json["sessions"][0]["date"] = "2024-02-30";
    const HistoryRoll read = parsed(json).value()[0];
    CHECK_FALSE(read.slope_red);
    CHECK(read.slope_green);
    CHECK_FALSE(read.base_green);
    CHECK_FALSE(read.base_blue);
    CHECK(read.base_red);
    CHECK_FALSE(read.residue_area_percent);
    CHECK_FALSE(read.rating);
    CHECK_FALSE(read.reel);
    CHECK_FALSE(read.bath_age_days);
    CHECK_FALSE(read.session_date);
    roll["film"]["speed"] = {{"effective_index", 125.0}};
    CHECK(parsed(json).value()[0].effective_index == 125.0);
}

TEST_CASE("what is no report of this program is refused with the reason") {
    const auto code = [](const std::string& text) { return parse_results(text, "x", "").error().code; };
    CHECK(code("") == ErrorCode::malformed);
    CHECK(code("{") == ErrorCode::malformed);
    CHECK(code("[1, 2]") == ErrorCode::malformed);
    CHECK(code("{\"program\": \"other\"}") == ErrorCode::malformed);
    CHECK(code(std::string(1'000'000, '[')) == ErrorCode::malformed);
    CHECK(code("{\"program\": \"basefog\", \"report_format\": 2, \"rolls\": []}") == ErrorCode::unsupported);
    CHECK(code("{\"program\": \"basefog\", \"report_format\": 1, \"rolls\": [{\"id\": \"\"}]}") == ErrorCode::malformed);
    CHECK(code("{\"program\": \"basefog\", \"report_format\": 1, \"rolls\": [{\"id\": \"a\"}, {\"id\": \"a\"}]}") == ErrorCode::malformed);
    CHECK(parse_results("{\"program\": \"basefog\", \"report_format\": 1, \"rolls\": []}", "x", "").value().empty());
    const TemporaryFolder folder;
    CHECK(read_results(folder.path().string()).error().code == ErrorCode::not_found);
    CHECK(read_results(folder.file("none")).error().code == ErrorCode::not_found);
    std::ofstream(folder.file("report.json")) << report();
    CHECK(read_results(folder.path().string()).value()[0].report == folder.file("report.html"));
    CHECK(read_results(folder.file("report.json")).value().size() == read_results(folder.path().string()).value().size());
}

TEST_CASE("mangled reports are read or refused, and never break anything") {
    synthetic::Random random(11);
    const char* scraps[] = {"null", "-1e999", "{}", "[]", "\"\\ud800\"", "1e308", "true", "\"\\u0000<script>\"", "[[[[]]]]", ""};
    int read = 0;
    for (int i = 0; i < 400; ++i) {
        std::string text = report();
        for (int k = 0; k <= random.below(3); ++k) {
            const auto at = static_cast<std::size_t>(random.unit() * static_cast<double>(text.size()));
            const std::size_t from = text.find(':', at);
            if (from == std::string::npos || random.unit() < 0.2) {
                text[at] = static_cast<char>(random.below(256));
            } else {
                const std::size_t to = text.find_first_of(",\n}", from);
                text = text.substr(0, from + 1) + scraps[random.below(10)] + text.substr(std::min(to, text.size()));
            }
        }
        const auto rolls = parse_results(text, "x", "");
        read += rolls ? 1 : 0;
        if (!rolls) continue;
        for (const HistoryRoll& roll : *rolls) {
            CHECK(std::isfinite(roll.base_red.value_or(0)));
            CHECK(roll.roll.find('\n') == std::string::npos);
        }
    }
    CHECK(read > 20);
    CHECK(read < 400);
}

TEST_CASE("a colour chart's finding is kept for later rolls of the stock, whole or not at all") {
    Json json = Json::parse(report());
    Json& roll = json["rolls"][0];
    const Json share = {{0.7, 0.28, 0.02}, {0.1, 0.75, 0.15}, {0.0, 0.1, 0.9}}, scene = {{1.1, -0.1, 0.0}, {-0.05, 1.15, -0.1}, {0.0, -0.1, 1.1}};
    roll["film"]["by_chart"] = {{"neutral_share", share}, {"scene_from_layer", scene}};
    const HistoryRoll first = parsed(json).value()[0];
    roll["film"]["by_chart"]["neutral_share"][0][0] = 0.9;
    const HistoryRoll second = parsed(json).value()[0];
    roll["film"]["by_chart"]["scene_from_layer"][2][1] = "none";
    CHECK(parsed(json).value()[0].chart_colour.empty());

    const auto colour = earlier_colour({first, second}, first.stock, first.process);
    REQUIRE(colour);
    CHECK(colour->rolls == 2);
    CHECK(colour->neutral_share[0] == Approx(0.8));  // their mean
    CHECK(colour->neutral_share[8] == Approx(0.9));
    CHECK(colour->scene_from_layer[5] == Approx(-0.1));
    CHECK_FALSE(earlier_colour({first}, "another stock", first.process));
    CHECK_FALSE(earlier_colour({first}, first.stock, "another process"));
    CHECK_FALSE(earlier_colour({}, "", ""));
}

TEST_CASE("an earlier curve is the middle of the rolls that measured it, with their spread") {
    HistoryRoll roll;
    roll.stock = "t500", roll.process = "C-41";
    std::vector<HistoryRoll> rolls;
    for (const double green : {0.60, 0.62, 0.61, 0.63}) {
        roll.slope_red = green - 0.1, roll.slope_green = green, roll.slope_blue = green + 0.05;
        rolls.push_back(roll);
    }
    roll.slope_green.reset();  // assumed, not measured
    rolls.push_back(roll);
    const auto curve = earlier_curve(rolls, "t500", "C-41");
    REQUIRE(curve);
    CHECK(curve->rolls == 4);
    CHECK(curve->slope.g == Approx(0.615));
    CHECK(curve->slope.r == Approx(0.515));
    // Standard deviation of the four about their middle, .0129, times sqrt(1 + pi / 8).
    CHECK(curve->slope_std.g == Approx(0.0129 * 1.180).epsilon(0.02));
    rolls.resize(2);
    CHECK_FALSE(earlier_curve(rolls, "t500", "C-41"));  // too few to tell their spread
}
