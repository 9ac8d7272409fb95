// SPDX-License-Identifier: GPL-3.0-or-later
// docs/report.schema.json against generated reports. Apart from json_test.cpp, as the validator is slow to compile.
#include "basefog/report/write_report.h"
#include "report/sample_record.h"

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validation_results.hpp>
#include <valijson/validator.hpp>

#include <fstream>
#include <functional>
#include <sstream>

using namespace basefog;
using nlohmann::json;

namespace {

json read_schema() {
    std::ifstream file(std::string(BASEFOG_SOURCE_DIR) + "/docs/report.schema.json");
    REQUIRE(file);
    return json::parse(file);
}

/// Empty when the report follows the schema, by a JSON Schema library that knows nothing of this project.
std::string complaints(const json& report) {
    static const json kSchema = read_schema();
    valijson::Schema schema;
    valijson::SchemaParser(valijson::SchemaParser::kDraft7).populateSchema(valijson::adapters::NlohmannJsonAdapter(kSchema), schema);
    valijson::ValidationResults results;
    valijson::Validator validator;
    if (validator.validate(schema, valijson::adapters::NlohmannJsonAdapter(report), &results)) return {};
    std::ostringstream text;
    for (const auto& error : results) {
        for (const std::string& part : error.context) text << part;
        text << ": " << error.description << "\n";
    }
    return text.str().empty() ? "invalid" : text.str();
}

json report_of(const RunRecord& record) { return json::parse(report_json(record)); }

/// Every object in the schema that lists properties describes each of them.
void collect_undescribed(const json& node, const std::string& path, std::vector<std::string>& found) {
    if (!node.is_object()) return;
    for (const auto& [key, value] : node.items()) {
        if (key == "properties")
            for (const auto& [name, property] : value.items())
                if (!property.contains("description") && !property.contains("$ref") && !property.contains("anyOf") && !property.contains("const"))
                    found.push_back(path + "/" + name);
        collect_undescribed(value, path + "/" + key, found);
    }
}

}  // namespace

TEST_CASE("reports of every kind of run follow docs/report.schema.json") {
    CHECK(complaints(report_of(sample::rich())) == "");
    CHECK(complaints(report_of(sample::empty())) == "");
    CHECK(complaints(report_of(sample::failed_only())) == "");
    CHECK(complaints(report_of(sample::black_and_white())) == "");
    CHECK(complaints(report_of(sample::no_ledger())) == "");
    CHECK(complaints(report_of(sample::hostile())) == "");
}

TEST_CASE("the schema refuses what is missing, misspelt or of the wrong kind") {
    const json good = report_of(sample::rich());
    const auto spoilt = [&](const std::function<void(json&)>& spoil) {
        json bad = good;
        spoil(bad);
        return complaints(bad);
    };
    CHECK(spoilt([](json& r) { r["scans"][0].erase("strips"); }) != "");
    CHECK(spoilt([](json& r) { r["scans"][0]["strips"][0]["frames"][0]["kind"] = "negative"; }) != "");
    CHECK(spoilt([](json& r) { r["scans"][0]["strips"][0]["base_density"].push_back(0.1); }) != "");
    CHECK(spoilt([](json& r) { r["scans"][0]["strips"][0]["frames"][0]["corners_px"][0] = "left"; }) != "");
    CHECK(spoilt([](json& r) { r["rolls"][0]["verdict"]["outcme"] = "paid_off"; }) != "");
    CHECK(spoilt([](json& r) { r["rolls"][0]["residue"]["area_percent"] = 101; }) != "");
    CHECK(spoilt([](json& r) { r["findings"][0]["severity"] = 2; }) != "");
}

TEST_CASE("the schema describes every value it lists") {
    std::vector<std::string> undescribed;
    collect_undescribed(read_schema(), "", undescribed);
    CHECK(undescribed == std::vector<std::string>{});
}
