// SPDX-License-Identifier: GPL-3.0-or-later
// How positives are wanted, as settings have it and as the page has it: whole values to a roll, and to a frame what it has of its own.
#pragma once

#include "basefog/core/print_choices.h"
#include "basefog/core/proof.h"
#include "basefog/ledger/settings_file.h"

#include <nlohmann/json.hpp>
#include <string>

namespace basefog::review {

/// All that was chosen; what was not is left out.
[[nodiscard]] nlohmann::ordered_json choices_json(const PrintChoices& choices);
[[nodiscard]] PrintChoices chosen(const PrintValues& values);
/// Those of `choices` that differ from `values`.
[[nodiscard]] PrintChoices differing(const PrintChoices& choices, const PrintValues& values);

/// Every value judged; throw std::exception, which the callers turn into an Error.
[[nodiscard]] PrintChoices choices_of(const nlohmann::json& json);
/// Errors: malformed.
[[nodiscard]] Result<ProofWish> wish_of(const nlohmann::json& json, const std::string& scan);

/// The settings' values for a roll they may not name.
[[nodiscard]] PrintValues values_of_roll(const Settings& settings, const std::string& roll);
/// What they say of a frame beyond its roll.
[[nodiscard]] PrintChoices own_of_frame(const Settings& settings, const std::string& roll, int number);

}  // namespace basefog::review
