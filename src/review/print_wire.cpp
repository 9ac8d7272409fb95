// SPDX-License-Identifier: GPL-3.0-or-later
#include "review/print_wire.h"

#include "review/wire.h"

#include <algorithm>
#include <array>
#include <cmath>
#include <stdexcept>
#include <utility>

namespace basefog::review {
namespace {

using Json = nlohmann::ordered_json;
using By = BalanceChoice::By;
using L = PrintLimits;

constexpr std::array<std::pair<By, const char*>, 4> kWays{{{By::roll, "roll"}, {By::frame, "frame"}, {By::patch, "patch"}, {By::numbers, "numbers"}}};

Json balance_json(const BalanceChoice& balance) {
    Json json;
    for (const auto& [by, word] : kWays)
        if (by == balance.by) json["by"] = word;
    const BalanceChoice::Patch& p = balance.patch;
    if (balance.by == By::patch) json["patch"] = {p.left, p.top, p.right, p.bottom};
    if (balance.by == By::patch && balance.frame) json["frame"] = *balance.frame;
    if (balance.by == By::numbers) json["stops"] = {balance.stops.r.value(), balance.stops.g.value(), balance.stops.b.value()};
    return json;
}

double number_in(const nlohmann::json& json, double least, double most, const char* what) {
    const auto value = json.get<double>();
    if (!(value >= least && value <= most)) throw std::invalid_argument(std::string(what) + " lies beyond what it may be");
    return value;
}

BalanceChoice balance_of(const nlohmann::json& json) {
    BalanceChoice balance;
    const auto word = json.at("by").get<std::string>();
    const auto way = std::find_if(kWays.begin(), kWays.end(), [&](const auto& each) { return word == each.second; });
    if (way == kWays.end()) throw std::invalid_argument("a balance is none of roll, frame, patch and numbers");
    balance.by = way->first;
    if (balance.by == By::numbers)
        for (int l = 0; l < 3; ++l)
            balance.stops[l] = Stops(number_in(json.at("stops").at(static_cast<std::size_t>(l)), -L::kMostStops, L::kMostStops, "a balance"));
    if (balance.by != By::patch) return balance;
    const auto side = [&](std::size_t i) { return number_in(json.at("patch").at(i), 0, 1, "a side of a grey patch"); };
    balance.patch = {side(0), side(1), side(2), side(3)};
    if (balance.patch.right - balance.patch.left < L::kLeastPatch || balance.patch.bottom - balance.patch.top < L::kLeastPatch)
        throw std::invalid_argument("a grey patch is too small");
    if (json.contains("frame")) balance.frame = json.at("frame").get<int>();
    return balance;
}

}  // namespace

Json choices_json(const PrintChoices& choices) {
    Json json = Json::object();
    if (choices.balance) json["balance"] = balance_json(*choices.balance);
    if (choices.exposure) json["exposure"] = choices.exposure->value();
    if (choices.contrast) json["contrast"] = *choices.contrast;
    if (choices.black_point) json["black_point"] = choices.black_point->value();
    if (choices.saturation) json["saturation"] = *choices.saturation;
    return json;
}

PrintChoices chosen(const PrintValues& values) { return {values.balance, values.exposure, values.contrast, values.black_point, values.saturation}; }

PrintChoices differing(const PrintChoices& choices, const PrintValues& values) {
    PrintChoices own = choices;
    if (own.balance == values.balance) own.balance.reset();
    if (own.exposure == values.exposure) own.exposure.reset();
    if (own.contrast == values.contrast) own.contrast.reset();
    if (own.black_point == values.black_point) own.black_point.reset();
    if (own.saturation == values.saturation) own.saturation.reset();
    return own;
}

PrintChoices choices_of(const nlohmann::json& json) {
    if (!json.is_object()) throw std::invalid_argument("choices of print are no table");
    PrintChoices choices;
    for (const auto& [key, value] : json.items()) {
        if (key == "balance")
            choices.balance = balance_of(value);
        else if (key == "exposure")
            choices.exposure = Stops(number_in(value, -L::kMostStops, L::kMostStops, "an exposure"));
        else if (key == "contrast")
            choices.contrast = number_in(value, L::kLeastContrast, L::kMostContrast, "a contrast");
        else if (key == "black_point")
            choices.black_point = Stops(number_in(value, L::kDeepestBlack, L::kShallowestBlack, "a black point"));
        else if (key == "saturation")
            choices.saturation = number_in(value, 0, L::kMostSaturation, "a saturation");
        else
            throw std::invalid_argument("a choice of print has a name that is not known");
    }
    return choices;
}

Result<ProofWish> wish_of(const nlohmann::json& json, const std::string& scan) {
    constexpr int kLongest = 2400;  // Chosen: a wide screen's pixels
    return guarded({}, [&] {
        ProofWish wish;
        wish.scan = scan;
        wish.corners = quad_of(json.at("corners"));
        wish.balance_of_roll = json.value("balanceOfRoll", true);
        wish.print = overlaid({}, choices_of(json.at("print")));
        wish.long_side = static_cast<int>(number_in(json.at("long"), 16, kLongest, "a proof's size"));
        wish.exact = json.at("exact").get<bool>();
        return wish;
    });
}

PrintValues values_of_roll(const Settings& settings, const std::string& roll) {
    PrintValues values = overlaid({}, settings.print);
    for (const RollPrintChoices& each : settings.rolls)
        if (each.roll == roll) values = overlaid(values, each.print);
    return values;
}

PrintChoices own_of_frame(const Settings& settings, const std::string& roll, int number) {
    for (const RollPrintChoices& each : settings.rolls)
        for (const auto& frame : each.frames)
            if (each.roll == roll && frame.number == number) return differing(frame.print, values_of_roll(settings, roll));
    return {};
}

}  // namespace basefog::review
