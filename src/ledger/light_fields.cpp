// SPDX-License-Identifier: GPL-3.0-or-later
#include "ledger/light_fields.h"

#include "ledger/light.h"
#include "ledger/nearest.h"
#include "ledger/text_checks.h"

#include <fmt/format.h>

namespace basefog::ledger_room {
namespace {

constexpr Range kKelvin{1500, 25000, "K", "5500"};

}  // namespace

std::optional<Kelvin> colour_temperature(Fields& fields, std::string_view key) {
    const toml::node* node = fields.any(key);
    if (!node) return std::nullopt;
    if (!node->is_string()) {
        if (!node->is_number()) {
            fields.wrong_type(key, *node, "a light in quotes or a number of kelvin", "\"daylight\" or 5500");
            return std::nullopt;
        }
        const auto kelvin = fields.number_in(key, *node, kKelvin);
        return kelvin ? std::optional(Kelvin(*kelvin)) : std::nullopt;
    }
    const std::string& name = node->as_string()->get();
    if (name.empty()) return std::nullopt;
    const auto light = light_by_name(name);
    if (!light) {
        fields.wrong_value(key, *node, fmt::format("is {}, which names no light", in_quotes(name)),
                           fmt::format("{} (or write kelvin: {} = 4000)", suggestion(name, light_names(), "lights"), key));
    }
    return light;
}

}  // namespace basefog::ledger_room
