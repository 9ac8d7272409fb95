// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/history/export.h"

#include "history/columns.h"

#include <fmt/format.h>
#include <cmath>
#include <nlohmann/json.hpp>

namespace basefog {
namespace {

using namespace history_room;
using Json = nlohmann::ordered_json;

struct Value {
    const HistoryRoll& roll;
    Json operator()(Member<std::string> m) const { return (roll.*m).empty() ? Json(nullptr) : Json(roll.*m); }
    Json operator()(Member<std::vector<std::string>> m) const { return roll.*m; }
    Json operator()(Member<std::optional<Date>> m) const { return roll.*m ? Json(to_string(*(roll.*m))) : Json(nullptr); }
    Json operator()(Member<std::optional<double>> m) const { return roll.*m && std::isfinite(*(roll.*m)) ? Json(*(roll.*m)) : Json(nullptr); }
    Json operator()(Member<std::optional<int>> m) const { return roll.*m ? Json(*(roll.*m)) : Json(nullptr); }
    Json operator()(Member<bool> m) const { return roll.*m; }
};

/// Quoted where [RFC4180] asks for it; what a spreadsheet would run as a formula gets an apostrophe (common practice, no standard).
std::string text_cell(std::string text) {
    for (char& c : text)
        if (static_cast<unsigned char>(c) < 0x20) c = c == '\n' ? ';' : ' ';
    const std::size_t first = text.find_first_not_of(' ');
    if (first != std::string::npos && std::string_view("=+-@").find(text[first]) != std::string_view::npos) text.insert(text.begin(), '\'');
    if (text.find_first_of(",\"") == std::string::npos) return text;
    std::string quoted = "\"";
    for (const char c : text) quoted += c == '"' ? std::string("\"\"") : std::string(1, c);
    return quoted + "\"";
}

struct Cell {
    const HistoryRoll& roll;
    std::string operator()(Member<std::string> m) const { return text_cell(roll.*m); }
    std::string operator()(Member<std::vector<std::string>> m) const { return text_cell(joined(roll.*m)); }
    std::string operator()(Member<std::optional<Date>> m) const { return roll.*m ? to_string(*(roll.*m)) : std::string(); }
    std::string operator()(Member<std::optional<double>> m) const { return roll.*m ? fmt::format("{}", *(roll.*m)) : std::string(); }
    std::string operator()(Member<std::optional<int>> m) const { return roll.*m ? fmt::format("{}", *(roll.*m)) : std::string(); }
    std::string operator()(Member<bool> m) const { return roll.*m ? "yes" : "no"; }
};

}  // namespace

std::string history_csv(const std::vector<HistoryRoll>& rolls) {
    std::string text;
    for (const Column& column : columns()) text += std::string(text.empty() ? "" : ",") + column.name;
    text += "\r\n";
    for (const HistoryRoll& roll : rolls) {
        std::string row;
        for (const Column& column : columns()) row += (&column == &columns().front() ? "" : ",") + std::visit(Cell{roll}, column.member);
        text += row + "\r\n";
    }
    return text;
}

std::string history_json(const std::vector<HistoryRoll>& rolls) {
    Json root;
    root["program"] = "basefog";
    root["history_format"] = 1;
    root["rolls"] = Json::array();
    for (const HistoryRoll& roll : rolls) {
        Json json;
        for (const Column& column : columns()) json[column.name] = std::visit(Value{roll}, column.member);
        root["rolls"].push_back(std::move(json));
    }
    return root.dump(1, ' ', false, Json::error_handler_t::replace) + "\n";
}

}  // namespace basefog
