// SPDX-License-Identifier: GPL-3.0-or-later
#include "commands.h"
#include "exit_code.h"

#include "basefog/core/version.h"

#include <cstdio>
#include <string>

namespace basefog::cli {

void add_version_command(CLI::App& app, Action& action) {
    CLI::App* command = app.add_subcommand("version", "print the version and the licence");
    command->callback([&action] {
        action = [] {
            std::printf("basefog %s\nLicence: GPL-3.0-or-later. There is no warranty, to the extent permitted by law.\n", std::string(version()).c_str());
            return kOk;
        };
    });
}

}  // namespace basefog::cli
