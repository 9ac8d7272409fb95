// SPDX-License-Identifier: GPL-3.0-or-later
// review: a page on this machine to correct a run's frames by hand.
#include "commands.h"
#include "console.h"
#include "exit_code.h"
#include "plain_text.h"
#include "run_options.h"
#include "summary.h"

#include "basefog/pipeline/sheet_picture.h"
#include "basefog/review/serve.h"

#include <fmt/format.h>
#include <sys/random.h>

#include <array>
#include <cstdio>
#include <filesystem>
#include <memory>

namespace basefog::cli {
namespace {

/// 128 bits nobody can guess; empty where the system gives none.
std::string random_token() {
    std::array<unsigned char, 16> bytes{};
    if (getrandom(bytes.data(), bytes.size(), 0) != static_cast<ssize_t>(bytes.size())) return {};
    std::string token;
    for (const unsigned char byte : bytes) token += fmt::format("{:02x}", byte);
    return token;
}

/// What was typed for the run, without what the new one is told anyway.
std::vector<std::string> words_of(const ReviewedRun& run) {
    std::vector<std::string> words;
    bool ledger = false;
    for (const auto& [name, value] : run.settings) {
        if (name == "layout") continue;
        ledger = ledger || name == "ledger";
        words.push_back("--" + name);
        if (value != "true") words.back() += "=" + value;
    }
    // A ledger names its sheets itself, in the folder it lies in.
    if (!ledger) words.insert(words.end(), run.scans.begin(), run.scans.end());
    return words;
}

int review(const ReviewOptions& typed) {
    Console console(Loudness::normal);
    const auto fail_with = [&](const Error& error) {
        console.error(describe(error));
        return error.code == ErrorCode::malformed ? kInput : exit_code_of(error);
    };
    ReviewOptions options = typed;
    options.token = random_token();
    if (options.layout.empty()) options.layout = (std::filesystem::path(options.folder) / "layout.toml").string();
    const auto made = read_run(options.folder);
    if (!made) return fail_with(made.error());
    auto run_options = run_options_of(made->command, words_of(*made));
    if (!run_options) return fail_with(run_options.error());
    run_options->output_folder = options.folder;
    run_options->replace = true;

    ReviewHooks hooks;
    hooks.picture = [&](const std::string& scan, PxRect part, int long_side) { return sheet_picture(*run_options, scan, part, long_side, silent_observer()); };
    hooks.run_again = [&](Observer& observer) -> Result<void> {
        RunOptions again = *run_options;
        std::error_code ignored;
        if (std::filesystem::exists(options.layout, ignored)) again.layout_path = options.layout;
        again.finished = time_now();
        auto record = run(again, observer);
        if (!record) return Failure(std::move(record.error()));
        return {};
    };
    const auto served = serve_review(options, hooks, console, [](const std::string& address) {
        fmt::print("Review: open {}\nThe page works until this program is stopped (Ctrl-C). Nothing is written before you save.\n", address);
        std::fflush(stdout);
    });
    return served ? kOk : fail_with(served.error());
}

}  // namespace

void add_review_command(CLI::App& app, Action& action) {
    CLI::App* command = app.add_subcommand("review", "correct strips and frames by hand, on a page of this machine's own");
    auto typed = std::make_shared<ReviewOptions>();
    command->add_option("DIR", typed->folder, "results folder of invert or measure")->required();
    command->add_option("--layout", typed->layout, "where corrections are saved (default: layout.toml in the folder)")->option_text("FILE");
    command->add_option("--port", typed->port, "of the page (default: any that is free)")->option_text("N")->check(CLI::Range(0, 65535));
    command->callback([&action, typed] { action = [typed] { return review(*typed); }; });
}

}  // namespace basefog::cli
