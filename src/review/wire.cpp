// SPDX-License-Identifier: GPL-3.0-or-later
#include "review/wire.h"

#include <algorithm>
#include <cmath>

namespace basefog::review {
namespace {

using Json = nlohmann::ordered_json;

constexpr std::pair<FrameKind, const char*> kKinds[] = {{FrameKind::picture, "picture"}, {FrameKind::blank, "blank"}, {FrameKind::fogged, "fogged"}};
constexpr std::pair<ScaleOrigin, const char*> kOrigins[] = {{ScaleOrigin::file, "file"},
                                                            {ScaleOrigin::option, "option"},
                                                            {ScaleOrigin::perforations, "perforations"},
                                                            {ScaleOrigin::film_width, "film_width"},
                                                            {ScaleOrigin::assumed, "assumed"}};

const char* word_for(FrameKind kind) {
    for (const auto& [each, word] : kKinds)
        if (each == kind) return word;
    return "picture";
}

template <class J>
FrameKind kind_of(const J& json) {
    const auto word = json.template get<std::string>();
    for (const auto& [kind, each] : kKinds)
        if (word == each) return kind;
    throw std::invalid_argument("a frame's kind is none of picture, blank and fogged");
}

template <class J>
StripDirection direction_of(const J& json) {
    return json.template get<std::string>() == "vertical" ? StripDirection::vertical : StripDirection::horizontal;
}

template <class J>
double number_or(const J& json, const char* key, double otherwise) {
    const auto found = json.find(key);
    return found != json.end() && found->is_number() ? found->template get<double>() : otherwise;
}

Json quad_json(const Quad& quad) {
    Json list = Json::array();
    for (const PointPx& p : quad) list.push_back({std::round(p.x * 100) / 100, std::round(p.y * 100) / 100});
    return list;
}

void read_frame(const nlohmann::json& json, SheetOnDesk& sheet) {
    FrameBox frame;
    frame.corners = quad_of(json.at("corners_px"));
    frame.kind = kind_of(json.at("kind"));
    frame.confidence = number_or(json, "confidence", 0);
    frame.edge_std = Millimetres(number_or(json, "edge_std_mm", 0));
    frame.placed_by_pitch = json.value("placed_by_pitch", false);
    frame.by_hand = json.value("by_hand", false);
    sheet.layout.layout.strips.back().frames.push_back(frame);
    sheet.layout.names.back().numbers.push_back(json.at("number").get<int>());
    const auto proof = json.find("proof");
    sheet.proofs.back().push_back(proof != json.end() && proof->is_string() ? proof->get<std::string>() : std::string());
}

void read_strip(const nlohmann::json& json, SheetOnDesk& sheet) {
    StripBox strip;
    strip.corners = quad_of(json.at("corners_px"));
    strip.angle_deg = number_or(json, "angle_deg", 0);
    strip.direction = direction_of(json.at("direction"));
    strip.confidence = number_or(json, "confidence", 1);
    strip.perforations_seen = json.value("perforations_seen", false);
    sheet.layout.layout.strips.push_back(strip);
    sheet.layout.names.push_back({json.at("roll").get<std::string>(), {}});
    sheet.proofs.emplace_back();
    for (const nlohmann::json& frame : json.at("frames")) read_frame(frame, sheet);
}

SheetOnDesk read_sheet(const nlohmann::json& json) {
    constexpr double kMmPerInch = 25.4;
    SheetOnDesk sheet;
    sheet.layout.file = json.at("file").get<std::string>();
    sheet.width = json.at("image").at("width_px").get<std::int64_t>();
    sheet.height = json.at("image").at("height_px").get<std::int64_t>();
    sheet.layout.layout.scale = PixelsPerMm(number_or(json, "dpi", 0) / kMmPerInch);
    sheet.layout.layout.scale_origin = ScaleOrigin::assumed;
    for (const auto& [origin, word] : kOrigins)
        if (json.at("dpi_origin").is_string() && json.at("dpi_origin").get<std::string>() == word) sheet.layout.layout.scale_origin = origin;
    for (const nlohmann::json& strip : json.at("strips")) read_strip(strip, sheet);
    return sheet;
}

}  // namespace

bool same_place(const Quad& a, const Quad& b) {
    constexpr double kSame = 0.0051;  // px: both may have been rounded to a hundredth
    for (std::size_t i = 0; i < a.size(); ++i)
        if (!(std::abs(a[i].x - b[i].x) <= kSame) || !(std::abs(a[i].y - b[i].y) <= kSame)) return false;
    return true;
}

bool same_layout(const NamedLayout& a, const NamedLayout& b) {
    if (a.names != b.names || a.layout.strips.size() != b.layout.strips.size()) return false;
    const auto same_frame = [](const FrameBox& one, const FrameBox& other) { return same_place(one.corners, other.corners) && one.kind == other.kind; };
    const auto same_strip = [&](const StripBox& one, const StripBox& other) {
        return same_place(one.corners, other.corners) && one.direction == other.direction &&
               std::equal(one.frames.begin(), one.frames.end(), other.frames.begin(), other.frames.end(), same_frame);
    };
    return std::equal(a.layout.strips.begin(), a.layout.strips.end(), b.layout.strips.begin(), same_strip);
}

Result<std::vector<SheetOnDesk>> sheets_of_report(const std::string& text, const std::string& path) {
    return guarded(path, [&] {
        std::vector<SheetOnDesk> sheets;
        const nlohmann::json report = nlohmann::json::parse(text);
        for (const nlohmann::json& scan : report.at("scans"))
            if (scan.at("failure").is_null()) sheets.push_back(read_sheet(scan));
        return sheets;
    });
}

Result<ReviewedRun> run_of_report(const std::string& text, const std::string& path) {
    return guarded(path, [&] {
        const nlohmann::json report = nlohmann::json::parse(text);
        ReviewedRun run;
        run.command = report.at("command").get<std::string>();
        for (const nlohmann::json& setting : report.at("settings"))
            run.settings.emplace_back(setting.at("name").get<std::string>(), setting.at("value").get<std::string>());
        for (const nlohmann::json& scan : report.at("scans")) run.scans.push_back(scan.at("file").get<std::string>());
        if (const auto file = report.find("settings_file"); file != report.end() && file->is_string()) run.settings_file = file->get<std::string>();
        return run;
    });
}

Json sheet_json(const SheetOnDesk& sheet) {
    const double scale = sheet.layout.layout.scale.value();
    Json json = {
        {"file", sheet.layout.file}, {"width", sheet.width}, {"height", sheet.height}, {"px_per_mm", scale > 0 ? scale : 10.0}, {"strips", Json::array()}};
    for (std::size_t s = 0; s < sheet.layout.layout.strips.size(); ++s) {
        const StripBox& strip = sheet.layout.layout.strips[s];
        Json frames = Json::array();
        for (std::size_t f = 0; f < strip.frames.size(); ++f) {
            const FrameBox& frame = strip.frames[f];
            const bool proof = s < sheet.proofs.size() && f < sheet.proofs[s].size();
            frames.push_back({{"number", sheet.layout.names[s].numbers[f]},
                              {"kind", word_for(frame.kind)},
                              {"corners", quad_json(frame.corners)},
                              {"confidence", frame.confidence},
                              {"by_hand", frame.by_hand},
                              {"proof", proof ? sheet.proofs[s][f] : std::string()}});
        }
        json["strips"].push_back({{"roll", sheet.layout.names[s].roll},
                                  {"direction", strip.direction == StripDirection::vertical ? "vertical" : "horizontal"},
                                  {"corners", quad_json(strip.corners)},
                                  {"frames", std::move(frames)}});
    }
    return json;
}

Result<std::vector<NamedLayout>> layouts_of_json(const nlohmann::json& sheets) {
    return guarded({}, [&] {
        std::vector<NamedLayout> layouts;
        for (const nlohmann::json& sheet : sheets) {
            NamedLayout layout;
            layout.file = sheet.at("file").get<std::string>();
            for (const nlohmann::json& strip : sheet.at("strips")) {
                StripBox box;
                box.corners = quad_of(strip.at("corners"));
                box.direction = direction_of(strip.at("direction"));
                box.confidence = 1;
                StripNaming naming{strip.at("roll").get<std::string>(), {}};
                for (const nlohmann::json& frame : strip.at("frames")) {
                    FrameBox one;
                    one.corners = quad_of(frame.at("corners"));
                    one.kind = kind_of(frame.at("kind"));
                    one.by_hand = true;
                    box.frames.push_back(one);
                    naming.numbers.push_back(frame.at("number").get<int>());
                }
                layout.layout.strips.push_back(std::move(box));
                layout.names.push_back(std::move(naming));
            }
            layouts.push_back(std::move(layout));
        }
        return layouts;
    });
}

}  // namespace basefog::review
