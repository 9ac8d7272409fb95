// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/light.h"

#include "ledger/text_checks.h"

#include <charconv>

namespace basefog::ledger_room {
namespace {

struct NamedLight {
    const char* name;
    double kelvin;
};
/// Illuminants D55 (5503 K), D65 (6504 K), D75 (7504 K), A (2856 K) and FL2 (4230 K) are those of [CIE15]; the plain
/// words name the everyday light each stands for, rounded where film makers round. The others are common practice, no
/// source: studio lamps 3200 K, photoflood lamps 3400 K, flash like daylight.
constexpr NamedLight kLights[] = {
    {"daylight", 5500}, {"tungsten", 3200},    {"shade", 7500},      {"overcast", 6500},
    {"flash", 5500},    {"fluorescent", 4230}, {"photoflood", 3400}, {"household", 2856},
};

struct NamedFilter {
    const char* name;
    double mired;
};
/// Published table: "Mired/Filter Calculator", pointsinfocus.com/tools/mired-calculator (read 2026-11-25), which rounds
/// 10^6/K of the two colour temperatures a filter converts between (5500 K and lamp for 80 and 85; 3200 K and lamp for
/// 81 and 82). It prints 82A as -10, which is the 82's shift: 82 and 82A here are -10 and -21 by that same rounding
/// (3100 K and 3000 K lamps to 3200 K; common practice).
constexpr NamedFilter kFilters[] = {
    {"80A", -131}, {"80B", -112}, {"80C", -81}, {"80D", -56}, {"81", 9},    {"81A", 18}, {"81B", 27},  {"81C", 35}, {"81D", 42},
    {"81EF", 53},  {"82", -10},   {"82A", -21}, {"82B", -32}, {"82C", -45}, {"85", 112}, {"85B", 131}, {"85C", 81}, {"none", 0},
};

struct Series {
    const char* prefix;
    double sign;
};
/// Named by decamired, that is tenths of the shift. Common practice, no source.
constexpr Series kDecamired[] = {{"kr", 1}, {"kb", -1}, {"lba", 1}, {"lbb", -1}};

std::string without(std::string_view text, std::string_view dropped) {
    std::string out;
    for (const char c : text) {
        if (dropped.find(c) == std::string_view::npos) out += c;
    }
    return out;
}

std::optional<double> positive_number(std::string_view text) {
    double value = 0;
    const auto [end, error] = std::from_chars(text.data(), text.data() + text.size(), value, std::chars_format::fixed);
    if (error != std::errc() || end != text.data() + text.size() || !(value > 0)) return std::nullopt;
    return value;
}

std::optional<double> single_filter(std::string_view written) {
    std::string name = without(ascii_lower(written), " -_");
    for (const char* neutral : {"n3", "n6", "n9"}) {
        if (name.starts_with("85") && name.ends_with(neutral)) name.resize(name.size() - 2);
    }
    for (const NamedFilter& filter : kFilters) {
        if (name == ascii_lower(filter.name)) return filter.mired;
    }
    for (const Series& series : kDecamired) {
        if (!name.starts_with(series.prefix)) continue;
        const auto tenths = positive_number(std::string_view(name).substr(std::string_view(series.prefix).size()));
        if (tenths && *tenths <= 30) return series.sign * 10 * *tenths;
    }
    return std::nullopt;
}

}  // namespace

std::optional<Kelvin> light_by_name(std::string_view name) {
    const std::string wanted = ascii_lower(trimmed(name));
    for (const NamedLight& light : kLights) {
        if (wanted == light.name) return Kelvin(light.kelvin);
    }
    return std::nullopt;
}

std::vector<std::string> light_names() {
    std::vector<std::string> names;
    for (const NamedLight& light : kLights) names.emplace_back(light.name);
    return names;
}

std::optional<double> filter_by_name(std::string_view name) {
    double sum = 0;
    while (true) {
        const std::size_t plus = name.find('+');
        const auto one = single_filter(trimmed(name.substr(0, plus)));
        if (!one) return std::nullopt;
        sum += *one;
        if (plus == std::string_view::npos) return sum;
        name.remove_prefix(plus + 1);
    }
}

std::vector<std::string> filter_names() {
    std::vector<std::string> names;
    for (const NamedFilter& filter : kFilters) names.emplace_back(filter.name);
    return names;
}

}  // namespace basefog::ledger_room
