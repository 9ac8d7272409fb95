// SPDX-License-Identifier: GPL-3.0-or-later
#include "commands.h"
#include "exit_code.h"
#include "plain_text.h"

#include "basefog/ledger/read_ledger.h"
#include "basefog/pipeline/run.h"

#include <chrono>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>

namespace basefog::cli {
namespace {

int say(const Error& error) {
    std::fprintf(stderr, "%s\n", describe(error).c_str());
    return error.code == ErrorCode::malformed ? kUsage : exit_code_of(error);
}

int check(const std::string& path) {
    const auto ledger = read_ledger(path);
    if (!ledger) return say(ledger.error());
    const auto now = std::chrono::floor<std::chrono::days>(std::chrono::system_clock::now());
    for (const std::string& remark : ledger_remarks(*ledger, Date(now))) std::fprintf(stderr, "%s: %s\n", path.c_str(), remark.c_str());
    int missing = 0;
    for (const Sheet& sheet : ledger->sheets) {
        std::error_code ignored;
        std::vector<std::string> files{sheet.path, sheet.infrared_path, sheet.light_frame_path, sheet.dark_frame_path};
        files.insert(files.end(), sheet.exposure_paths.begin(), sheet.exposure_paths.end());
        for (const SheetFile& shot : sheet.further_shots) {
            files.push_back(shot.path);
            files.insert(files.end(), shot.exposure_paths.begin(), shot.exposure_paths.end());
        }
        for (const std::string& file : files) {
            if (file.empty() || std::filesystem::exists(file, ignored)) continue;
            std::fprintf(stderr, "%s: names a scan that is not there: %s\n", path.c_str(), file.c_str());
            ++missing;
        }
    }
    std::printf("%s: %zu stocks, %zu baths, %zu sessions, %zu rolls, %zu sheets; %s\n", path.c_str(), ledger->stocks.size(), ledger->baths.size(),
                ledger->sessions.size(), ledger->rolls.size(), ledger->sheets.size(), missing == 0 ? "no mistake found" : "see the missing scans above");
    return missing == 0 ? kOk : kInput;
}

/// One line per group, its scans apart by tabs.
int list_groups(const std::string& path) {
    RunOptions options;
    auto ledger = read_ledger(path);
    if (!ledger) return say(ledger.error());
    options.ledger = std::move(*ledger);
    const auto groups = sheet_groups(options);
    if (!groups) return say(groups.error());
    std::string text;
    for (const std::vector<std::string>& group : *groups)
        for (const std::string& scan : group) {
            if (scan.find_first_of("\t\n") != std::string::npos) {
                std::fprintf(stderr, "%s: the name of a scan holds a tab or a line's end: %s\n", path.c_str(), plain(scan).c_str());
                return kUsage;
            }
            text += scan + (&scan == &group.back() ? '\n' : '\t');
        }
    return std::fputs(text.c_str(), stdout) >= 0 && std::fflush(stdout) == 0 ? kOk : kOutput;
}

}  // namespace

void add_ledger_commands(CLI::App& app, Action& action) {
    CLI::App* ledger = app.add_subcommand("ledger", "write a commented ledger to start from, check one, or list its groups");
    ledger->require_subcommand(1);
    ledger->add_subcommand("write", "print a commented template")->callback([&action] {
        action = [] {
            std::fputs(ledger_template().c_str(), stdout);
            return std::fflush(stdout) == 0 && std::ferror(stdout) == 0 ? kOk : kOutput;
        };
    });
    CLI::App* verify = ledger->add_subcommand("check", "verify a ledger and name every mistake");
    auto path = std::make_shared<std::string>();
    verify->add_option("FILE", *path, "the ledger")->required();
    verify->callback([&action, path] { action = [path] { return check(*path); }; });
    CLI::App* groups = ledger->add_subcommand("groups", "list the scans that must be worked on together, one group to a line");
    groups->add_option("FILE", *path, "the ledger")->required();
    groups->callback([&action, path] { action = [path] { return list_groups(*path); }; });
}

}  // namespace basefog::cli
