// SPDX-License-Identifier: GPL-3.0-or-later
// Settings: how positives are wanted, as a TOML file of its own. Read for a run, and written by it so that it can be repeated.
#pragma once

#include "basefog/core/print_choices.h"
#include "basefog/core/result.h"

#include <optional>
#include <string>
#include <vector>

namespace basefog {

/// What files to make, in the words of the command line. What is empty was not said.
struct OutputSettings {
    std::string profile;  ///< srgb, wide, linear, or a file: as written, resolved against the settings' folder
    std::optional<int> icc_version;
    std::string compression;
    std::optional<bool> linear, density;
    friend bool operator==(const OutputSettings&, const OutputSettings&) = default;
};

struct Settings {
    std::string path;
    OutputSettings output;
    PrintChoices print;                   ///< for every frame
    std::vector<RollPrintChoices> rolls;  ///< and for some
    friend bool operator==(const Settings&, const Settings&) = default;
};

/// Errors name file, line, column, key and what would be right.
[[nodiscard]] Result<Settings> read_settings(const std::string& path);
[[nodiscard]] Result<Settings> parse_settings(const std::string& text, const std::string& path);

/// Text that `parse_settings` reads back to the same values, to the last digit. `head`: lines of a comment above all.
[[nodiscard]] std::string settings_text(const Settings& settings, const std::vector<std::string>& head);

}  // namespace basefog
