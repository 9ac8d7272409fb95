// SPDX-License-Identifier: GPL-3.0-or-later
#include "fuzz/targets.h"

#include "basefog/core/assert.h"
#include "basefog/ledger/layout_file.h"
#include "basefog/ledger/read_ledger.h"
#include "basefog/ledger/settings_file.h"

namespace basefog::fuzz {
namespace {

void must_be_placed(const Error& error) {
    BASEFOG_ASSERT(error.path == "x.toml" && error.what.size() < 4000);
    BASEFOG_ASSERT(error.what.find("line ") != std::string::npos && error.what.find(", column ") != std::string::npos);
}

}  // namespace

void feed_ledger(std::string_view bytes) {
    const auto ledger = parse_ledger(std::string(bytes), "x.toml");
    if (!ledger) return must_be_placed(ledger.error());
    for (const Roll& roll : ledger->rolls) {
        (void)rolls_done_before(*ledger, roll.id);
        (void)bath_age_days(*ledger, roll.id);
    }
    (void)ledger_remarks(*ledger, std::nullopt);
}

void feed_settings(std::string_view bytes) {
    const auto settings = parse_settings(std::string(bytes), "x.toml");
    if (!settings) return must_be_placed(settings.error());
    const auto again = parse_settings(settings_text(*settings, {"again"}), "x.toml");
    BASEFOG_ASSERT(again && *again == *settings);
}

void feed_layout(std::string_view bytes) {
    const auto layouts = parse_layouts(std::string(bytes), "x.toml");
    if (!layouts) return must_be_placed(layouts.error());
    BASEFOG_ASSERT(parse_layouts(layout_text(*layouts), "x.toml").has_value());
}

}  // namespace basefog::fuzz
