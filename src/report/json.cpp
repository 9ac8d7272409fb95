// SPDX-License-Identifier: GPL-3.0-or-later
// report.json as a whole; its parts are in json_scan.cpp and json_roll.cpp, its description in docs/report.schema.json.
#include "basefog/report/write_report.h"
#include "report/gather.h"
#include "report/json_parts.h"
#include "report/names.h"

#include <cmath>

namespace basefog {
namespace report {

Json number(double value) {
    if (!std::isfinite(value)) return nullptr;
    return value == 0 ? 0.0 : value;
}

Json text_or_null(const std::string& text) { return text.empty() ? Json(nullptr) : Json(text); }

Json triple(const Rgb<double>& values) { return Json::array({number(values.r), number(values.g), number(values.b)}); }

Json quad(const Quad& corners) {
    Json points = Json::array();
    for (const PointPx& p : corners) points.push_back(Json::array({number(p.x), number(p.y)}));
    return points;
}

Json uncertainty_parts(double std_uncertainty, std::int64_t n, MeasureFlag flags) {
    return {{"std", number(std_uncertainty)}, {"n", n}, {"flags", names_of(flags)}};
}

Json print_json(const PrintValues& print, const std::optional<Rgb<LogExposure>>& balance) {
    using By = BalanceChoice::By;
    const auto stops = [](const Rgb<Stops>& s) { return triple({s.r.value(), s.g.value(), s.b.value()}); };
    const BalanceChoice& by = print.balance;
    Json choice = {{"by", by.by == By::roll ? "roll" : by.by == By::frame ? "frame" : by.by == By::patch ? "patch" : "numbers"}};
    choice["patch"] =
        by.by == By::patch ? Json::array({number(by.patch.left), number(by.patch.top), number(by.patch.right), number(by.patch.bottom)}) : Json(nullptr);
    choice["frame_number"] = by.by == By::patch && by.frame ? Json(*by.frame) : Json(nullptr);
    choice["stops"] = balance                ? stops({to_stops(balance->r), to_stops(balance->g), to_stops(balance->b)})
                      : by.by == By::numbers ? stops(by.stops)
                                             : Json(nullptr);
    return {{"balance", std::move(choice)},
            {"exposure_stops", number(print.exposure.value())},
            {"contrast", number(print.contrast)},
            {"black_point_stops", number(print.black_point.value())},
            {"saturation", number(print.saturation)}};
}

Json finding_json(const RunRecord& record, const Finding& finding) {
    const auto index_or_null = [](int index) { return index < 0 ? Json(nullptr) : Json(index); };
    Json where = {{"scan", text_or_null(finding.where.scan)},
                  {"strip", index_or_null(finding.where.strip)},
                  {"frame", index_or_null(finding.where.frame)},
                  {"frame_number", nullptr},
                  {"roll", text_or_null(finding.where.roll)}};
    if (const auto place = find_place(record, finding.where)) where["frame_number"] = find_frame(record, *place)->number;
    Json numbers = Json::object();
    for (const auto& [name, value] : finding.numbers) numbers[name] = number(value);
    return {{"severity", name_of(finding.severity)},
            {"code", finding.code},
            {"message", finding.message},
            {"where", std::move(where)},
            {"numbers", std::move(numbers)}};
}

namespace {

Json summary_json(const RunRecord& record, const std::vector<Finding>& findings) {
    const Totals totals = count_totals(record);
    Json by_severity = {{"serious", 0}, {"caution", 0}, {"note", 0}};
    for (const Finding& finding : findings) {
        Json& count = by_severity[std::string(name_of(finding.severity))];
        count = count.get<int>() + 1;
    }
    return {{"scans", totals.scans},
            {"failed_scans", totals.failed_scans},
            {"strips", totals.strips},
            {"rolls", record.rolls.size()},
            {"frames", {{"picture", totals.pictures}, {"blank", totals.blank}, {"fogged", totals.fogged}}},
            {"findings", std::move(by_severity)}};
}

Json settings_json(const RunRecord& record) {
    Json settings = Json::array();
    for (const auto& [name, value] : record.settings) settings.push_back({{"name", name}, {"value", value}});
    return settings;
}

}  // namespace
}  // namespace report

std::string report_json(const RunRecord& record) {
    using namespace report;
    const std::vector<Finding> findings = all_findings(record);
    Json root;
    root["program"] = "basefog";
    root["version"] = record.version;
    root["report_format"] = 1;
    root["command"] = record.command;
    root["finished"] = text_or_null(record.finished);
    root["ledger"] = text_or_null(record.ledger);
    root["settings"] = settings_json(record);
    root["settings_file"] = text_or_null(record.settings_file);
    root["summary"] = summary_json(record, findings);
    root["scans"] = Json::array();
    for (const ScanRecord& scan : record.scans) root["scans"].push_back(scan_json(scan));
    root["rolls"] = Json::array();
    for (const RollRecord& roll : record.rolls) root["rolls"].push_back(roll_json(record, roll));
    root["comparisons"] = Json::array();
    for (const StockComparison& comparison : record.comparisons) root["comparisons"].push_back(comparison_json(comparison));
    root["stocks"] = Json::array();
    for (const Stock* stock : all_stocks(record)) root["stocks"].push_back(stock_json(*stock));
    root["sessions"] = Json::array();
    for (const Session* session : all_sessions(record)) root["sessions"].push_back(session_json(*session));
    root["baths"] = Json::array();
    for (const Bath* bath : all_baths(record)) root["baths"].push_back(bath_json(*bath));
    root["findings"] = Json::array();
    for (const Finding& finding : findings) root["findings"].push_back(finding_json(record, finding));
    // A file's name may hold bytes that are no UTF-8: they are replaced by U+FFFD, never a reason to lose the report.
    return root.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace basefog
