// SPDX-License-Identifier: GPL-3.0-or-later
// Every verb adds itself to the command line and leaves behind what to do when it was chosen.
#pragma once

#include <CLI/CLI.hpp>
#include <functional>

namespace basefog::cli {

/// Set by the parsed verb; returns the exit code.
using Action = std::function<int()>;

void add_run_commands(CLI::App& app, Action& action);      ///< invert, measure
void add_ledger_commands(CLI::App& app, Action& action);   ///< ledger write, ledger check
void add_history_commands(CLI::App& app, Action& action);  ///< history add, show, compare, export, merge
void add_review_command(CLI::App& app, Action& action);   ///< review
void add_version_command(CLI::App& app, Action& action);

}  // namespace basefog::cli
