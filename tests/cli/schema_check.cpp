// SPDX-License-Identifier: GPL-3.0-or-later
#include "cli/program.h"

#include <nlohmann/json.hpp>
#include <valijson/adapters/nlohmann_json_adapter.hpp>
#include <valijson/schema.hpp>
#include <valijson/schema_parser.hpp>
#include <valijson/validation_results.hpp>
#include <valijson/validator.hpp>

namespace basefog {

std::string schema_complaints(const std::string& report_path) {
    const auto schema_json = nlohmann::json::parse(content_of(BASEFOG_SOURCE_DIR "/docs/report.schema.json"));
    const auto report = nlohmann::json::parse(content_of(report_path));
    valijson::Schema schema;
    valijson::SchemaParser().populateSchema(valijson::adapters::NlohmannJsonAdapter(schema_json), schema);
    valijson::ValidationResults results;
    std::string complaints;
    valijson::Validator validator;
    if (!validator.validate(schema, valijson::adapters::NlohmannJsonAdapter(report), &results)) {
        complaints = "invalid:";
        for (const auto& error : results) complaints += " " + error.description;
    }
    return complaints;
}

}  // namespace basefog
