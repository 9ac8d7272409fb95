// SPDX-License-Identifier: GPL-3.0-or-later
#include "commands.h"
#include "exit_code.h"

#include "basefog/ledger/read_ledger.h"

#include <chrono>
#include <cstdio>
#include <filesystem>
#include <memory>
#include <string>

namespace basefog::cli {
namespace {

int check(const std::string& path) {
    const auto ledger = read_ledger(path);
    if (!ledger) {
        std::fprintf(stderr, "%s\n", describe(ledger.error()).c_str());
        return ledger.error().code == ErrorCode::not_found || ledger.error().code == ErrorCode::unreadable ? kInput : kUsage;
    }
    const auto now = std::chrono::floor<std::chrono::days>(std::chrono::system_clock::now());
    for (const std::string& remark : ledger_remarks(*ledger, Date(now))) std::fprintf(stderr, "%s: %s\n", path.c_str(), remark.c_str());
    int missing = 0;
    for (const Sheet& sheet : ledger->sheets) {
        std::error_code ignored;
        for (const std::string* file : {&sheet.path, &sheet.infrared_path, &sheet.light_frame_path, &sheet.dark_frame_path}) {
            if (file->empty() || std::filesystem::exists(*file, ignored)) continue;
            std::fprintf(stderr, "%s: names a scan that is not there: %s\n", path.c_str(), file->c_str());
            ++missing;
        }
    }
    std::printf("%s: %zu stocks, %zu baths, %zu sessions, %zu rolls, %zu sheets; %s\n", path.c_str(), ledger->stocks.size(), ledger->baths.size(),
                ledger->sessions.size(), ledger->rolls.size(), ledger->sheets.size(), missing == 0 ? "no mistake found" : "see the missing scans above");
    return missing == 0 ? kOk : kInput;
}

}  // namespace

void add_ledger_commands(CLI::App& app, Action& action) {
    CLI::App* ledger = app.add_subcommand("ledger", "write a commented ledger to start from, or check one");
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
}

}  // namespace basefog::cli
