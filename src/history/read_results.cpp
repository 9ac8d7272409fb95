// SPDX-License-Identifier: GPL-3.0-or-later
#include "basefog/history/read_results.h"

#include "history/columns.h"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <filesystem>
#include <fstream>
#include <map>
#include <nlohmann/json.hpp>
#include <set>

namespace basefog {
namespace {

using Json = nlohmann::json;
namespace fs = std::filesystem;

// All Chosen. A report takes about 100 kB per sheet; names in a ledger have at most 80 characters.
constexpr std::uintmax_t kMostBytes = std::uintmax_t{256} << 20;
constexpr int kDeepest = 32;
constexpr std::size_t kLongestText = 1000, kMostRolls = 10'000, kMostSheets = 1000;
struct Range {
    double low, high;
};
constexpr Range kDensity{-1, kMaxDensity}, kUncertainty{0, 5}, kSlope{0.01, 5}, kPercent{0, 100}, kIndex{0.01, 1e6}, kStops{-20, 20}, kYears{-100, 200},
    kMinutes{0, 1440}, kCelsius{-20, 100}, kGrams{0, 2000}, kLitres{0, 10000}, kShare{0, 1}, kMixing{-2, 3};
constexpr Range kCount{0, 1'000'000}, kDays{-100'000, 100'000};

const Json& at(const Json& object, const char* key) {
    static const Json kNothing = nullptr;
    if (!object.is_object()) return kNothing;
    const auto found = object.find(key);
    return found == object.end() ? kNothing : *found;
}

const Json& at(const Json& array, std::size_t index) {
    static const Json kNothing = nullptr;
    return array.is_array() && index < array.size() ? array[index] : kNothing;
}

std::optional<double> number(const Json& value, Range range) {
    if (!value.is_number()) return std::nullopt;
    const double v = value.get<double>();
    return std::isfinite(v) && v >= range.low && v <= range.high ? std::optional(v) : std::nullopt;
}

std::optional<int> whole(const Json& value, Range range) {
    const auto v = number(value, range);
    return v && *v == std::floor(*v) ? std::optional(static_cast<int>(*v)) : std::nullopt;
}

/// Line breaks would break the list of sheets, and mean nothing in a name.
std::string text(const Json& value) {
    if (!value.is_string()) return {};
    std::string v = value.get<std::string>().substr(0, kLongestText);
    while (!v.empty() && v.size() == kLongestText && (static_cast<unsigned char>(v.back()) & 0x80) != 0) v.pop_back();  // half a character
    std::replace_if(
        v.begin(), v.end(), [](unsigned char c) { return c < 0x20 || c == 0x7f; }, ' ');
    return v;
}

std::optional<Date> date(const Json& value) { return value.is_string() ? history_room::date_from(value.get<std::string>()) : std::nullopt; }

using ById = std::map<std::string, const Json*>;

ById by_id(const Json& list) {
    ById all;
    if (list.is_array())
        for (const Json& item : list) all.emplace(text(at(item, "id")), &item);
    return all;
}

const Json* find(const ById& all, const std::string& id) {
    const auto found = id.empty() ? all.end() : all.find(id);
    return found == all.end() ? nullptr : found->second;
}

struct Strip {
    const Json *scan, *strip;
};

/// The report's lists by name, so that a report of any size is gone through once.
struct Index {
    ById sessions, baths, stocks;
    std::map<std::string, std::vector<Strip>> strips;  // by roll
    explicit Index(const Json& report) : sessions(by_id(at(report, "sessions"))), baths(by_id(at(report, "baths"))), stocks(by_id(at(report, "stocks"))) {
        if (!at(report, "scans").is_array()) return;
        for (const Json& scan : at(report, "scans"))
            if (at(scan, "strips").is_array())
                for (const Json& strip : at(scan, "strips")) strips[text(at(strip, "roll"))].push_back({&scan, &strip});
    }
};

bool flagged(const Json& uncertainty, const char* flag) {
    const Json& flags = at(uncertainty, "flags");
    return flags.is_array() && std::find(flags.begin(), flags.end(), flag) != flags.end();
}

void read_session(const Json& session, HistoryRoll& roll) {
    roll.session_date = date(at(session, "date"));
    roll.process = text(at(session, "process"));
    roll.developer_minutes = number(at(session, "developer_minutes"), kMinutes);
    roll.developer_celsius = number(at(session, "developer_temperature_celsius"), kCelsius);
    const Json& wash = at(session, "backing_wash");
    roll.wash_agent = text(at(wash, "agent"));
    roll.wash_grams_per_litre = number(at(wash, "grams_per_litre"), kGrams);
    roll.wash_celsius = number(at(wash, "temperature_celsius"), kCelsius);
    roll.wash_soak_minutes = number(at(wash, "soak_minutes"), kMinutes);
    roll.wash_rinses = whole(at(wash, "rinses"), kCount);
}

void read_bath(const Json& bath, HistoryRoll& roll) {
    roll.bath_mixed_on = date(at(bath, "mixed_on"));
    roll.bath_litres = number(at(bath, "volume_litres"), kLitres);
    roll.bath_good_for_rolls = whole(at(bath, "good_for_rolls"), kCount);
}

void read_told(const Index& index, const Json& json, HistoryRoll& roll) {
    roll.session = text(at(json, "session"));
    roll.bath = text(at(json, "bath"));
    roll.stock = text(at(json, "stock"));
    if (const Json* session = find(index.sessions, roll.session)) read_session(*session, roll);
    if (const Json* bath = find(index.baths, roll.bath)) read_bath(*bath, roll);
    if (const Json* stock = find(index.stocks, roll.stock)) {
        roll.stock_expiry = date(at(*stock, "expiry"));
        roll.black_and_white = at(*stock, "kind") == "black_and_white";
    }
    roll.rolls_done_before = whole(at(json, "rolls_done_before_in_bath"), kCount);
    roll.bath_age_days = whole(at(json, "bath_age_days"), kDays);
    const Json& told = at(json, "told");
    roll.box_speed = number(at(told, "box_speed"), kIndex);
    roll.rating = number(at(told, "rating"), kIndex);
    roll.years_past_expiry = number(at(told, "years_past_expiry"), kYears);
    roll.tank = text(at(told, "tank"));
    roll.reel = whole(at(told, "reel"), kCount);
    if (roll.process.empty()) roll.process = text(at(told, "process"));
    roll.black_and_white = roll.black_and_white || at(told, "black_and_white") == true || at(json, "silver_image") == true;
}

void read_base(const Json& json, HistoryRoll& roll) {
    const Json &values = at(json, "base_density"), &sure = at(at(json, "uncertainty"), "base_density");
    std::optional<double>* const value[] = {&roll.base_red, &roll.base_green, &roll.base_blue};
    std::optional<double>* const std_of[] = {&roll.base_red_std, &roll.base_green_std, &roll.base_blue_std};
    for (std::size_t i = 0; i < 3; ++i) {
        // Against the clearest film instead of bare light, base is 0 by definition and says nothing.
        if (flagged(at(sure, i), "relative")) continue;
        *value[i] = number(at(values, i), kDensity);
        if (*value[i]) *std_of[i] = number(at(at(sure, i), "std"), kUncertainty);
    }
}

void read_slopes(const Json& film, HistoryRoll& roll) {
    const Json &values = at(film, "slope"), &sure = at(at(film, "uncertainty"), "slope");
    std::optional<double>* const value[] = {&roll.slope_red, &roll.slope_green, &roll.slope_blue};
    std::optional<double>* const std_of[] = {&roll.slope_red_std, &roll.slope_green_std, &roll.slope_blue_std};
    for (std::size_t i = 0; i < 3; ++i) {
        if (flagged(at(sure, i), "assumed")) continue;
        *value[i] = number(at(values, i), kSlope);
        if (*value[i]) *std_of[i] = number(at(at(sure, i), "std"), kUncertainty);
    }
}

/// Eighteen numbers that are all there, or nothing.
std::string chart_colour_of(const Json& by_chart) {
    std::string out;
    for (const char* name : {"neutral_share", "scene_from_layer"})
        for (std::size_t row = 0; row < 3; ++row)
            for (std::size_t column = 0; column < 3; ++column) {
                const auto value = number(at(at(at(by_chart, name), row), column), kMixing);
                if (!value) return {};
                out += fmt::format("{}{:.6f}", out.empty() ? "" : " ", *value);
            }
    return out;
}

void read_measured(const Json& json, HistoryRoll& roll) {
    read_base(json, roll);
    read_slopes(at(json, "film"), roll);
    roll.chart_colour = chart_colour_of(at(at(json, "film"), "by_chart"));
    // Reports of programs that measure speed hold it; older ones do not.
    for (const Json* speed : {&at(at(json, "film"), "speed"), &at(json, "speed")})
        if (!roll.effective_index) roll.effective_index = number(at(*speed, "effective_index"), kIndex);
    const Json& residue = at(json, "residue");
    roll.residue_area_percent = number(at(residue, "area_percent"), kPercent);
    roll.residue_grade = text(at(residue, "worst_grade"));
    const Json& verdict = at(json, "verdict");
    roll.outcome = text(at(verdict, "outcome"));
    roll.rated_over_stops = number(at(verdict, "rated_over_stops"), kStops);
    roll.spare_stops = number(at(verdict, "spare_stops"), kStops);
    roll.shadow_lost_percent = number(at(verdict, "shadow_lost_percent"), kPercent);
}

/// What makes a scan the same scan wherever it lies: its name without folders, its size, the date the scanner gave it.
std::string sheet_mark(const Json& scan) {
    const std::string name = fs::path(text(at(scan, "file"))).filename().string();
    const Json& image = at(scan, "image");
    return fmt::format("{}, {} x {} px, {}", name, whole(at(image, "width_px"), {0, 1e9}).value_or(0), whole(at(image, "height_px"), {0, 1e9}).value_or(0),
                       at(image, "date").is_string() ? text(at(image, "date")) : "no date");
}

bool has_streaks(const Json& strip) {
    const Json& patterns = at(at(strip, "residue"), "patterns");
    if (!patterns.is_array()) return false;
    return std::any_of(patterns.begin(), patterns.end(), [](const Json& p) { return p.is_string() && p.get_ref<const std::string&>().starts_with("streak"); });
}

/// What only the strips say: sheets, streaks, the densest veil, pictures and their exposure.
void read_strips(const std::vector<Strip>& strips, HistoryRoll& roll) {
    int streaked = 0, pictures = 0;
    std::vector<double> exposures;
    std::set<std::string> sheets;
    for (const auto& [scan, strip] : strips) {
        if (sheets.size() < kMostSheets) sheets.insert(sheet_mark(*scan));
        streaked += has_streaks(*strip) ? 1 : 0;
        const Json& residue = at(*strip, "residue");
        if (const auto veil = number(at(residue, "veil_density"), kDensity); veil && at(residue, "veil_separable") == true)
            roll.veil_density = std::max(roll.veil_density.value_or(0), *veil);
        if (!at(*strip, "frames").is_array()) continue;
        for (const Json& frame : at(*strip, "frames")) {
            pictures += at(frame, "kind") == "picture" ? 1 : 0;
            if (const auto stops = number(at(frame, "exposure_offset_stops"), kStops)) exposures.push_back(*stops);
        }
    }
    roll.sheets.assign(sheets.begin(), sheets.end());
    roll.strips = static_cast<int>(strips.size());
    roll.pictures = pictures;
    if (!strips.empty()) roll.streaked_share = static_cast<double>(streaked) / static_cast<double>(strips.size());
    if (exposures.empty()) return;
    const auto middle = exposures.begin() + static_cast<std::ptrdiff_t>(exposures.size() / 2);
    std::nth_element(exposures.begin(), middle, exposures.end());
    roll.exposure_stops = *middle;
}

/// Throws from inside the parser when the text nests deeper than any report: our own parsing code recurses no further.
Result<Json> parse_json(const std::string& text, const std::string& path) {
    struct TooDeep : std::exception {};
    const Json::parser_callback_t callback = [](int depth, Json::parse_event_t, Json&) {
        if (depth > kDeepest) throw TooDeep();
        return true;
    };
    try {
        return Json::parse(text, callback);
    } catch (const TooDeep&) {
        return fail(ErrorCode::malformed, "this is no report: it nests too deep", path);
    } catch (const std::exception& e) {
        return fail(ErrorCode::malformed, fmt::format("this is no report: {}", std::string(e.what()).substr(0, 200)), path,
                    "name a results folder or its report.json");
    }
}

}  // namespace

Result<std::vector<HistoryRoll>> parse_results(const std::string& content, const std::string& path, const std::string& page) {
    const auto report = parse_json(content, path);
    if (!report) return Failure(report.error());
    if (at(*report, "program") != "basefog" || !at(*report, "rolls").is_array())
        return fail(ErrorCode::malformed, "this is JSON, but no report of this program", path, "name a results folder or its report.json");
    if (at(*report, "report_format") != 1)
        return fail(ErrorCode::unsupported, "this report has a format the program does not know", path, "use the newer program it was made with");
    if (at(*report, "rolls").size() > kMostRolls) return fail(ErrorCode::too_large, fmt::format("more than {} rolls", kMostRolls), path);
    std::vector<HistoryRoll> rolls;
    const Index index(*report);
    std::set<std::string> names;
    int place = 0;
    for (const Json& json : at(*report, "rolls")) {
        HistoryRoll roll;
        ++place;
        roll.roll = text(at(json, "id"));
        if (roll.roll.empty()) return fail(ErrorCode::malformed, fmt::format("roll {} of this report has no name", place), path);
        if (!names.insert(roll.roll).second) return fail(ErrorCode::malformed, fmt::format("roll {} of this report has the name of another", place), path);
        read_told(index, json, roll);
        read_measured(json, roll);
        if (const auto strips = index.strips.find(roll.roll); strips != index.strips.end()) read_strips(strips->second, roll);
        roll.finished = text(at(*report, "finished"));
        roll.program_version = text(at(*report, "version"));
        roll.report = page;
        roll.report_place = place;
        rolls.push_back(std::move(roll));
    }
    return rolls;
}

Result<std::vector<HistoryRoll>> read_results(const std::string& path) {
    std::error_code trouble;
    fs::path file = path;
    if (fs::is_directory(file, trouble)) file /= "report.json";
    if (!fs::exists(file, trouble))
        return fail(ErrorCode::not_found, file == fs::path(path) ? "there is no such file or folder" : "there is no report.json in this folder", path,
                    "name a results folder or its report.json");
    const auto size = fs::file_size(file, trouble);
    if (trouble) return fail(ErrorCode::unreadable, "this is no file that can be read", file.string());
    if (size > kMostBytes) return fail(ErrorCode::too_large, fmt::format("the report is larger than {} MiB", kMostBytes >> 20), file.string());
    std::ifstream in(file, std::ios::binary);
    if (!in) return fail(ErrorCode::unreadable, "the report cannot be opened", file.string(), "check its permissions");
    std::string content(static_cast<std::size_t>(size), '\0');
    in.read(content.data(), static_cast<std::streamsize>(content.size()));
    if (static_cast<std::uintmax_t>(in.gcount()) != size) return fail(ErrorCode::unreadable, "reading the report failed midway", file.string());
    const fs::path page = fs::absolute(file, trouble).lexically_normal().replace_filename("report.html");
    return parse_results(content, file.string(), page.string());
}

}  // namespace basefog
