// SPDX-License-Identifier: GPL-3.0-or-later
#include "support/synthetic_history.h"
#include "support/synthetic_random.h"

#include <algorithm>
#include <chrono>
#include <cmath>
#include <cstdio>
#include <nlohmann/json.hpp>

namespace synthetic {
namespace {

using Json = nlohmann::ordered_json;

// All invented. Scatter is of the size that careful work at home leaves; planted effects are what an over-used litre, a hasty wash and a
// bad tank might do.
constexpr double kBaseOfSession = 0.006, kBaseOfRoll = 0.008, kSlopeOfSession = 0.012, kSlopeOfRoll = 0.015, kRatioOfSession = 0.006, kRatioOfRoll = 0.010,
                 kResidueOfSession = 0.12, kResidueOfRoll = 0.30, kIndexOfRoll = 0.3;
constexpr std::array<double, 3> kWornBase{0.003, 0.004, 0.006};
constexpr double kWornSlope = -0.005, kWornRatio = -0.004, kHasty = 0.7, kStreaking = 0.7;
constexpr double kStreakHere = 0.75, kStreakElsewhere = 0.04, kResidueFloor = 0.1;
constexpr int kOverUsedRolls = 30, kGoodFor = 16, kStripsOfRoll = 6;

struct Stock {
    const char *name, *expiry;
    std::array<double, 3> base;
    double slope, red_ratio, blue_ratio, box, index, years_past;
};
const std::array<Stock, 3> kStocks{{{"t500", "2014-06-30", {0.22, 0.62, 0.95}, 0.62, 0.97, 1.06, 500, 200, 9.8},
                                    {"d250", "2019-12-31", {0.25, 0.58, 0.88}, 0.66, 0.94, 1.02, 250, 160, 4.3},
                                    {"d50", "2023-03-31", {0.20, 0.55, 0.80}, 0.58, 1.00, 1.10, 50, 50, 1.0}}};
const std::array<const char*, 3> kTanks{"old two-reel", "tall one", "dented one"};

/// Normal by the polar form of two uniforms: with true tails, which matter where claims are counted.
double normal(Random& random) {
    const double u = 1 - random.unit();
    return std::sqrt(-2 * std::log(u)) * std::cos(6.283185307179586 * random.unit());
}

std::string day(int days) {
    const std::chrono::year_month_day date = std::chrono::sys_days(std::chrono::year{2024} / 1 / 7) + std::chrono::days(days);
    char text[40];
    std::snprintf(text, sizeof text, "%04d-%02u-%02u", static_cast<int>(date.year()), static_cast<unsigned>(date.month()), static_cast<unsigned>(date.day()));
    return text;
}

struct Session {
    int litre = 0, day = 0, rolls = 0, done_before = 0;
    bool hasty = false;
};

std::vector<Session> plan(const YearsSpec& spec, std::vector<LitreTruth>& litres, std::vector<int>& mixed, Random& random) {
    std::vector<Session> sessions;
    const int over_used = spec.litres / 2;
    int today = 3;
    for (int litre = 0; litre < spec.litres; ++litre) {
        const int others = spec.litres > 1 ? (spec.rolls - kOverUsedRolls) / (spec.litres - 1) : 0;
        const int place = litre < over_used ? litre : litre - 1;  // among the others
        const int extra = place < (spec.rolls - kOverUsedRolls) % std::max(1, spec.litres - 1) ? 1 : 0;
        const int rolls = litre == over_used ? kOverUsedRolls : others + extra;
        mixed.push_back(today - random.below(4));
        litres.push_back({"litre-" + std::to_string(litre + 1), day(mixed.back()), rolls, {}, 0, 0});
        if (spec.planted && litre == over_used) {
            litres.back().base_per_roll = kWornBase;
            litres.back().slope_per_roll = kWornSlope;
            litres.back().blue_ratio_per_roll = kWornRatio;
        }
        for (int done = 0; done < rolls;) {
            const int now = std::min(rolls - done, 3 + random.below(4));
            sessions.push_back({litre, today, now, done, random.unit() < 0.5});
            done += now;
            today += 12 + random.below(29);
        }
    }
    return sessions;
}

Json sure(double std_of) { return {{"std", std_of}, {"n", 200}, {"flags", Json::array()}}; }

struct Drawn {
    std::array<double, 3> base{}, slope{};
    double residue_percent = 0, spare = 0, rating = 0;
    int streaked = 0;
    std::string outcome;
};

Json corners() { return Json::array({Json::array({0.0, 0.0}), Json::array({100.0, 0.0}), Json::array({100.0, 50.0}), Json::array({0.0, 50.0})}); }

Json strip_json(const std::string& roll, int index, const Drawn& d, bool streaked) {
    Json patterns = Json::array();
    if (d.residue_percent > 0.5) patterns.push_back("specks");
    if (streaked) patterns.push_back("streaks along the travel");
    const Json frame = {{"number", 6 * index + 1},
                        {"kind", "picture"},
                        {"corners_px", corners()},
                        {"confidence", 0.99},
                        {"edge_std_mm", 0.05},
                        {"placed_by_pitch", false},
                        {"by_hand", false},
                        {"cut_off", false},
                        {"positive", nullptr},
                        {"proof", nullptr},
                        {"linear", nullptr},
                        {"density", nullptr},
                        {"print", nullptr},
                        {"mended", {{"mask", nullptr}, {"unmended", nullptr}, {"divided_percent", 0.0}, {"filled_percent", 0.0}}},
                        {"residue_area_percent", d.residue_percent},
                        {"exposure_offset_stops", 1.0},
                        {"exposure", nullptr},
                        {"uncertainty", Json::object()}};
    Json strip = {{"roll", roll},
                  {"corners_px", corners()},
                  {"angle_deg", 0.0},
                  {"direction", "horizontal"},
                  {"perforations_seen", true},
                  {"perforations", nullptr},
                  {"format", "36x24"},
                  {"format_confidence", 1.0},
                  {"bow_mm", 0.0},
                  {"edge_print", nullptr},
                  {"confidence", 1.0},
                  {"base_density", d.base},
                  {"base_density_infrared", nullptr},
                  {"base_spot_noise", {0.01, 0.01, 0.01}},
                  {"silver_image", false},
                  {"uncertainty", {{"base_density", Json::array({sure(0.002), sure(0.002), sure(0.002)})}}}};
    const char* grade = d.residue_percent <= 0 ? "clean" : d.residue_percent <= 2 ? "trace" : d.residue_percent <= 12 ? "partial" : "heavy";
    strip["residue"] = {{"grade", grade},      {"area_percent", d.residue_percent}, {"mean_density", 0.0},
                        {"veil_density", 0.0}, {"veil_separable", false},           {"patterns", patterns},
                        {"dust_count", 12},    {"uncertainty", Json::object()}};
    strip["frames"] = Json::array({frame});
    return strip;
}

Json curve_json(double slope) {
    return {{"slope", slope},          {"toe_log10_h", -1.0},    {"toe_width", 0.11},
            {"shoulder_log10_h", 1.9}, {"shoulder_width", 0.28}, {"departure_log10_h", std::vector<double>(17, 0.0)}};
}

Json film_json(const Drawn& d) {
    Json film = {{"silver", false}, {"dye_from_channel", Json::array({{1.0, 0.0, 0.0}, {0.0, 1.0, 0.0}, {0.0, 0.0, 1.0}})}};
    film["scene_from_layer"] = film["dye_from_channel"], film["by_chart"] = nullptr;
    film["curves"] = {{"red", curve_json(d.slope[0])}, {"green", curve_json(d.slope[1])}, {"blue", curve_json(d.slope[2])}};
    film["slope"] = d.slope;
    film["common_slope_std"] = 0.09;
    film["balance_log10_h"] = {0.0, 0.0, 0.0};
    film["balance_std_log10_h"] = {0.05, 0.0, 0.05};
    film["basis"] = {{"unmixing", "simulated"}, {"curves", "simulated"}, {"balance", "simulated"}, {"scale", "simulated"}};
    film["uncertainty"] = {{"slope", Json::array({sure(0.01), sure(0.01), sure(0.01)})}};
    return film;
}

Json roll_json(const std::string& name, const Stock& stock, const Session& session, const LitreTruth& litre, int mixed, const std::string& tank, int reel,
               const Drawn& d) {
    Json json = {{"id", name}, {"stock", stock.name}, {"session", day(session.day)}, {"bath", litre.name}};
    json["rolls_done_before_in_bath"] = session.done_before;
    json["bath_age_days"] = session.day - mixed;
    json["told"] = {{"box_speed", stock.box}, {"rating", d.rating},     {"stock_balance_kelvin", 3200.0},
                    {"light_kelvin", 5500.0}, {"filter_mired", 0.0},    {"black_and_white", false},
                    {"process", "C-41"},      {"own_process", "ECN-2"}, {"years_past_expiry", stock.years_past + session.day / 365.25},
                    {"tank", tank},           {"reel", reel},           {"note", nullptr}};
    json["verdict"] = {{"outcome", d.outcome},
                       {"text", "simulated"},
                       {"rated_over_stops", std::log2(stock.box / d.rating)},
                       {"shadow_lost_percent", 1.0},
                       {"shadow_lost_at_box_percent", 4.0},
                       {"spare_stops", d.spare},
                       {"lacking_stops", nullptr},
                       {"highlight_lost_percent", 0.0},
                       {"worst_frame", nullptr},
                       {"worst_shadow_lost_percent", nullptr},
                       {"pictures", 24},
                       {"what_if", Json::array()}};
    json["speed"] = {{"effective_index", nullptr}, {"effective_index_std_stops", nullptr}, {"loss_stops", nullptr}, {"uncertainty", Json::object()}};
    json["limits"] = {{"shadow_stops", -4.0}, {"highlight_stops", 6.0}};
    json["mask_srgb"] = {230, 190, 140};
    json["wedges"] = Json::array();
    json["other_lights"] = Json::array();
    const char* grade = d.residue_percent <= 0 ? "clean" : d.residue_percent <= 2 ? "trace" : d.residue_percent <= 12 ? "partial" : "heavy";
    json["residue"] = {{"worst_grade", grade}, {"area_percent", d.residue_percent}, {"rewash_frames", Json::array()}, {"place", nullptr}};
    json["base_density"] = d.base;
    json["base_spot_noise"] = {0.01, 0.01, 0.01};
    json["silver_image"] = false;
    json["uncertainty"] = {{"base_density", Json::array({sure(0.002), sure(0.002), sure(0.002)})}};
    json["film"] = film_json(d);
    json["grain"] = Json::array();
    json["contact_sheet"] = nullptr;
    json["print"] = {{"balance", {{"by", "roll"}, {"patch", nullptr}, {"frame_number", nullptr}, {"stops", nullptr}}},
                     {"exposure_stops", 0.0},
                     {"contrast", 1.0},
                     {"black_point_stops", -7.0},
                     {"saturation", 1.0}};
    json["frames"] = Json::array();
    return json;
}

/// What a session's slips add to all its rolls.
struct Slips {
    std::array<double, 3> base{};
    double slope = 0, red = 0, blue = 0, residue = 0;
};

Slips draw_slips(double scatter, Random& random) {
    Slips slips;
    const double common = normal(random) * kBaseOfSession * scatter;
    for (double& b : slips.base) b = common + 0.3 * normal(random) * kBaseOfSession * scatter;
    slips.slope = normal(random) * kSlopeOfSession * scatter;
    slips.red = normal(random) * kRatioOfSession * scatter;
    slips.blue = normal(random) * kRatioOfSession * scatter;
    slips.residue = normal(random) * kResidueOfSession * scatter;
    return slips;
}

Drawn draw_roll(const YearsSpec& spec, const Stock& stock, const Session& session, const LitreTruth& litre, bool bad_tank, const Slips& slips, Random& random) {
    Drawn d;
    const double worn = session.done_before;
    const double fogged = random.unit() < spec.fogged_share ? 0.3 : 0;
    for (std::size_t i = 0; i < 3; ++i) d.base[i] = stock.base[i] + litre.base_per_roll[i] * worn + slips.base[i] + normal(random) * kBaseOfRoll + fogged;
    const double green = stock.slope + litre.slope_per_roll * worn + slips.slope + normal(random) * kSlopeOfRoll;
    const double red = stock.red_ratio + slips.red + normal(random) * kRatioOfRoll;
    const double blue = stock.blue_ratio + litre.blue_ratio_per_roll * worn + slips.blue + normal(random) * kRatioOfRoll;
    d.slope = {green * red, green, green * blue};
    double log_residue = -0.1 + slips.residue + normal(random) * kResidueOfRoll;
    if (spec.planted && session.hasty) log_residue += kHasty;
    if (spec.planted && bad_tank) log_residue += kStreaking;
    d.residue_percent = std::clamp(std::pow(10.0, log_residue) - kResidueFloor, 0.0, 100.0);
    for (int i = 0; i < kStripsOfRoll; ++i) d.streaked += random.unit() < (spec.planted && bad_tank ? kStreakHere : kStreakElsewhere) ? 1 : 0;
    d.rating = std::round(stock.index / std::exp2(0.5 * (1 + random.below(4))));
    const double spare = std::log2(stock.index / d.rating) + normal(random) * kIndexOfRoll;
    d.spare = std::max(0.0, std::floor(2 * spare) / 2);
    d.outcome = spare < -0.5 ? "not_enough" : spare > 1 ? "more_than_needed" : "paid_off";
    return d;
}

Json scan_json(const std::string& roll, const Drawn& d) {
    Json scan = {{"file", roll + ".tif"}, {"failure", nullptr}, {"dpi", 3200.0},
                 {"dpi_origin", "file"},  {"image", nullptr},   {"densities_relative_to", "bare_light"},
                 {"defect_map", nullptr},
                 {"joined_shots", Json::array()}};
    scan["strips"] = Json::array();
    for (int i = 0; i < kStripsOfRoll; ++i) scan["strips"].push_back(strip_json(roll, i, d, i < d.streaked));
    return scan;
}

Json stock_json(const Stock& stock) {
    return {{"id", stock.name},         {"kind", "colour_negative"}, {"box_speed", stock.box},
            {"balance_kelvin", 3200.0}, {"own_process", "ECN-2"},    {"expiry", stock.expiry}};
}

Json session_json(const Session& session, const LitreTruth& litre) {
    const Json wash = session.hasty
                          ? Json{{"agent", "borax"}, {"grams_per_litre", 20.0}, {"temperature_celsius", 30.0}, {"soak_minutes", 0.5}, {"rinses", 2}}
                          : Json{{"agent", "sodium carbonate"}, {"grams_per_litre", 10.0}, {"temperature_celsius", 40.0}, {"soak_minutes", 2.0}, {"rinses", 5}};
    return {{"id", day(session.day)}, {"date", day(session.day)},  {"bath", litre.name},
            {"process", "C-41"},      {"developer_minutes", 3.25}, {"developer_temperature_celsius", 38.0},
            {"backing_wash", wash}};
}

Json empty_report(const Session& session) {
    Json report = {{"program", "basefog"},
                   {"version", "0.1.0"},
                   {"report_format", 1},
                   {"command", "measure"},
                   {"finished", day(session.day + 2) + "T18:00:00Z"},
                   {"ledger", "ledger.toml"},
                   {"settings", Json::array()},
                   {"settings_file", nullptr}};
    report["summary"] = {{"scans", session.rolls},
                         {"failed_scans", 0},
                         {"strips", session.rolls * kStripsOfRoll},
                         {"rolls", session.rolls},
                         {"frames", {{"picture", session.rolls * kStripsOfRoll}, {"blank", 0}, {"fogged", 0}}},
                         {"findings", {{"serious", 0}, {"caution", 0}, {"note", 0}}}};
    for (const char* list : {"scans", "rolls", "comparisons", "stocks", "sessions", "baths", "findings"}) report[list] = Json::array();
    return report;
}

}  // namespace

Years simulate_years(const YearsSpec& spec) {
    Random random(spec.seed);
    Years years;
    std::vector<int> mixed;
    const std::vector<Session> sessions = plan(spec, years.truth.litres, mixed, random);
    int number = 0;
    for (const Session& session : sessions) {
        const LitreTruth& litre = years.truth.litres[static_cast<std::size_t>(session.litre)];
        const Slips slips = draw_slips(spec.session_scatter, random);
        const int first_tank = random.below(3);
        Json report = empty_report(session);
        for (int i = 0; i < session.rolls; ++i) {
            const auto tank = static_cast<std::size_t>((first_tank + i / 3) % 3);
            const Stock& stock = kStocks[static_cast<std::size_t>(random.below(3))];
            const std::string name = "R" + std::to_string(++number);
            const Drawn d = draw_roll(spec, stock, session, litre, tank == 2, slips, random);
            report["scans"].push_back(scan_json(name, d));
            report["rolls"].push_back(roll_json(name, stock, session, litre, mixed[static_cast<std::size_t>(session.litre)], kTanks[tank], i % 3 + 1, d));
        }
        for (const Stock& stock : kStocks) report["stocks"].push_back(stock_json(stock));
        report["sessions"].push_back(session_json(session, litre));
        report["baths"].push_back(
            {{"id", litre.name}, {"kind", "stills colour developer"}, {"volume_litres", 1.0}, {"mixed_on", litre.mixed_on}, {"good_for_rolls", kGoodFor}});
        years.sessions.push_back({day(session.day), report.dump(1) + "\n"});
    }
    years.truth.over_used = years.truth.litres[static_cast<std::size_t>(spec.litres / 2)].name;
    years.truth.careful_wash = "sodium carbonate";
    years.truth.hasty_wash = "borax";
    years.truth.streaking_tank = kTanks[2];
    if (spec.planted) years.truth.hasty_ratio = std::pow(10.0, kHasty);
    if (spec.planted) years.truth.streaking_ratio = std::pow(10.0, kStreaking);
    for (const Stock& stock : kStocks) years.truth.index[stock.name] = stock.index;
    return years;
}

std::string truth_json(const YearsTruth& truth) {
    Json json = {{"over_used", truth.over_used},
                 {"streaking_tank", truth.streaking_tank},
                 {"careful_wash", truth.careful_wash},
                 {"hasty_wash", truth.hasty_wash},
                 {"hasty_ratio", truth.hasty_ratio},
                 {"streaking_ratio", truth.streaking_ratio},
                 {"index", truth.index}};
    json["litres"] = Json::array();
    for (const LitreTruth& litre : truth.litres)
        json["litres"].push_back({{"name", litre.name},
                                  {"mixed_on", litre.mixed_on},
                                  {"rolls", litre.rolls},
                                  {"base_per_roll", litre.base_per_roll},
                                  {"slope_per_roll", litre.slope_per_roll},
                                  {"blue_ratio_per_roll", litre.blue_ratio_per_roll}});
    return json.dump(1) + "\n";
}

}  // namespace synthetic
