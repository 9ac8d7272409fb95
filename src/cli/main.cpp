// SPDX-License-Identifier: GPL-3.0-or-later
#include "commands.h"
#include "console.h"
#include "exit_code.h"

#include "basefog/core/version.h"

#include <clocale>
#include <csignal>
#include <cstdio>
#include <string>

int main(int argc, char** argv) {
    using namespace basefog::cli;
    std::signal(SIGPIPE, SIG_IGN);
    std::signal(SIGXFSZ, SIG_IGN);  // a file beyond the system's limit is an error like a full disk
    stop_politely_on_signals();
    CLI::App app{"From scans of motion-picture negative in stills cassettes to positives and a report on film, wash and chemistry."};
    app.name("basefog");
    app.set_version_flag("--version", "basefog " + std::string(basefog::version()));
    app.require_subcommand(1);
    app.footer(
        "Exit codes: 0 done, 1 findings asked to fail on, 2 usage, 3 input, 4 output, 5 interrupted, 6 sheets left out.\nStart with `basefog ledger write > "
        "ledger.toml`; see "
        "`man basefog`.");
    Action action;
    add_run_commands(app, action);
    add_ledger_commands(app, action);
    add_history_commands(app, action);
    add_review_command(app, action);
    add_version_command(app, action);
    try {
        app.parse(argc, argv);
    } catch (const CLI::ParseError& e) {
        return app.exit(e) == 0 ? kOk : kUsage;
    }
    return action();
}
