// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/report/write_report.h"
#include "report/sample_record.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
using namespace basefog;

TEST_CASE("every number of a frame is in report.json under the name of the contract") {
    const RunRecord record = sample::rich();
    const auto json = nlohmann::json::parse(report_json(record));
    const auto& frame = json["scans"][0]["strips"][2]["frames"][3];
    CHECK(frame["number"] == 4);
}
