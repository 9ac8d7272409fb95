// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/report/write_report.h"
#include "report/sample_record.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include <algorithm>

using namespace basefog;
using nlohmann::json;

namespace {

json report_of(const RunRecord& record) { return json::parse(report_json(record)); }

}  // namespace

TEST_CASE("the contract's names carry the record's numbers, to the last bit") {
    const RunRecord record = sample::rich();
    const json report = report_of(record);
    REQUIRE(report["scans"].size() == 3);
    const ScanRecord& scan = record.scans[0];
    CHECK(report["scans"][0]["file"] == scan.file);
    CHECK(report["scans"][0]["defect_map"] == scan.defect_map);
    CHECK(report["scans"][0]["dpi"].get<double>() == scan.scale.value() * 25.4);  // 25.4 mm to the inch, exact
    for (std::size_t s = 0; s < scan.strips.size(); ++s) {
        const StripRecord& strip = scan.strips[s];
        const json& out = report["scans"][0]["strips"][s];
        CHECK(out["roll"] == strip.roll);
        CHECK(out["angle_deg"].get<double>() == strip.box.angle_deg);
        CHECK(out["residue"]["area_percent"].get<double>() == strip.residue.area_percent.value);
        CHECK(out["residue"]["veil_density"].get<double>() == strip.residue.veil.value.value());
        for (int c = 0; c < 3; ++c) CHECK(out["base_density"][static_cast<std::size_t>(c)].get<double>() == strip.base.base[c].value.value());
        for (std::size_t k = 0; k < 4; ++k) {
            CHECK(out["corners_px"][k][0].get<double>() == strip.box.corners[k].x);
            CHECK(out["corners_px"][k][1].get<double>() == strip.box.corners[k].y);
        }
        REQUIRE(out["frames"].size() == strip.frames.size());
        for (std::size_t f = 0; f < strip.frames.size(); ++f) {
            const FrameRecord& frame = strip.frames[f];
            CHECK(out["frames"][f]["number"] == frame.number);
            if (frame.box.kind != FrameKind::picture) continue;
            CHECK(out["frames"][f]["positive"] == frame.positive);
            CHECK(out["frames"][f]["exposure_offset_stops"].get<double>() == frame.exposure.offset.value.value());
            const json& exposure = out["frames"][f]["exposure"];
            CHECK(exposure["shadow_lost_percent"].get<double>() == frame.exposure.shadow_lost_percent.value);
            CHECK(exposure["highlight_lost_percent"].get<double>() == frame.exposure.highlight_lost_percent.value);
            REQUIRE(exposure["what_if"].size() == 13);
            CHECK(exposure["what_if"][0]["stops"] == -3.0);
            CHECK(exposure["what_if"][12]["highlight_lost_percent"].get<double>() == frame.exposure.what_if[12].highlight_lost_percent);
        }
    }
    CHECK(report["scans"][0]["strips"][2]["residue"]["grade"] == "partial");
    CHECK(report["rolls"][1]["id"] == "R2");
    CHECK(report["rolls"][1]["verdict"]["outcome"] == "paid_off");
    CHECK(report["rolls"][1]["rolls_done_before_in_bath"] == 4);
}

TEST_CASE("frames without a picture have no exposure, and a scan that failed has no strips") {
    const json report = report_of(sample::rich());
    const json& blank = report["scans"][0]["strips"][1]["frames"][5];
    CHECK(blank["kind"] == "blank");
    CHECK(blank["exposure_offset_stops"].is_null());
    CHECK(blank["exposure"].is_null());
    CHECK(blank["positive"].is_null());
    CHECK(report["scans"][2]["strips"].empty());
    CHECK(report["scans"][2]["failure"]["code"] == "malformed");
    CHECK(report["scans"][2]["dpi"].is_null());
    CHECK(report["summary"]["failed_scans"] == 1);
    CHECK(report["summary"]["frames"]["blank"] == 1);
}

TEST_CASE("findings of a roll's film join the run's once, under the roll's name") {
    RunRecord record = sample::rich();
    const auto count = [](const json& report) {
        return std::count_if(report["findings"].begin(), report["findings"].end(), [](const json& f) { return f["code"] == "slope-assumed"; });
    };
    CHECK(count(report_of(record)) == 1);
    record.findings.push_back(record.rolls[2].film.findings[0]);
    CHECK(count(report_of(record)) == 1);
    CHECK(report_of(sample::rich())["findings"].back()["where"]["roll"] == "R3");
    CHECK(report_of(record)["findings"][1]["where"]["frame_number"] == 9);
}

TEST_CASE("what is not finite becomes null") {
    const std::string text = report_json(sample::not_finite());
    const json report = json::parse(text);  // a strict parser: NaN and Infinity are no JSON [RFC8259 section 6]
    CHECK(report["scans"][0]["strips"][0]["base_density"][0].is_null());
    CHECK(report["scans"][0]["strips"][0]["frames"][0]["exposure_offset_stops"].is_null());
    CHECK(report["rolls"][0]["film"]["curves"]["green"]["slope"].is_null());
    CHECK(report["findings"][4]["numbers"]["value"].is_null());
}

TEST_CASE("names that are no UTF-8 are mended, not lost") {
    const json report = report_of(sample::hostile());
    const std::string file = report["scans"][0]["file"];
    CHECK(file.find("<script>alert(1)</script>") != std::string::npos);  // JSON is not markup: text stays what it is
    CHECK(file.find("\xef\xbf\xbd") != std::string::npos);
    CHECK(file.find("harbour-1.tif") != std::string::npos);
}

TEST_CASE("the same record gives the same bytes") {
    CHECK(report_json(sample::rich()) == report_json(sample::rich()));
    CHECK(frames_csv(sample::rich()) == frames_csv(sample::rich()));
    CHECK(report_html(sample::rich()) == report_html(sample::rich()));
}
