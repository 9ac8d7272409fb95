// SPDX-License-Identifier: GPL-3.0-or-later
// review: a page on this machine to correct a run's frames, and how they are printed, by hand.
#include "commands.h"
#include "console.h"
#include "exit_code.h"
#include "plain_text.h"
#include "run_options.h"
#include "summary.h"

#include "basefog/pipeline/proofs.h"
#include "basefog/pipeline/sheet_picture.h"
#include "basefog/review/serve.h"

#include <fmt/format.h>
#include <sys/random.h>

#include <algorithm>
#include <array>
#include <cstdio>
#include <filesystem>
#include <fstream>
#include <iterator>
#include <memory>
#include <optional>

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
std::vector<std::string> words_of(const ReviewedRun& run, bool own_settings) {
    std::vector<std::string> words;
    bool ledger = false;
    for (const auto& [name, value] : run.settings) {
        if (name == "layout" || (name == "settings" && own_settings)) continue;
        ledger = ledger || name == "ledger";
        words.push_back("--" + name);
        if (value != "true") words.back() += "=" + value;
    }
    // A ledger names its sheets itself, in the folder it lies in.
    if (!ledger) words.insert(words.end(), run.scans.begin(), run.scans.end());
    return words;
}

/// The run as it is made again: its options, with what was saved since.
class SavedRun {
public:
    explicit SavedRun(const ReviewOptions& options) : options_(options) {}
    /// Errors: those of the results, and of the options, ledger and settings they name.
    [[nodiscard]] Result<RunOptions> options() const {
        const auto made = read_run(options_.folder);
        if (!made) return Failure(made.error());
        const bool own_settings = !made->settings_file.empty() && is_there(options_.settings);
        std::vector<std::string> words = words_of(*made, own_settings);
        if (own_settings) words.push_back("--settings=" + options_.settings);
        auto run_options = run_options_of(made->command, std::move(words));
        if (!run_options) return Failure(std::move(run_options.error()));
        run_options->output_folder = options_.folder;
        run_options->update = true;
        if (is_there(options_.layout)) run_options->layout_path = options_.layout;
        run_options->finished = time_now();
        return run_options;
    }

private:
    [[nodiscard]] static bool is_there(const std::string& path) {
        std::error_code ignored;
        return std::filesystem::exists(path, ignored);
    }
    const ReviewOptions& options_;
};

/// The sheets measured for proofs, anew only where the layout is another.
class Proofs {
public:
    Result<void> prepare(const RunOptions& options, Observer& observer) {
        std::string layout = options.layout_path.empty() ? std::string() : text_of(options.layout_path);
        if (table_ && layout == layout_) return {};
        table_.reset();
        auto table = ProofTable::measure(options, observer);
        if (!table) return Failure(std::move(table.error()));
        table_ = std::move(*table);
        layout_ = std::move(layout);
        return {};
    }
    Result<Proof> proof(const ProofWish& wish) { return table_->proof(wish, silent_observer()); }

private:
    static std::string text_of(const std::string& path) {
        std::ifstream in(path, std::ios::binary);
        return {std::istreambuf_iterator<char>(in), {}};
    }
    std::optional<ProofTable> table_;
    std::string layout_;
};

bool ledger_speaks_of(const RunOptions& options, const std::string& roll, int number) {
    const Roll* told = options.ledger ? options.ledger->find_roll(roll) : nullptr;
    return told != nullptr &&
           std::any_of(told->frames.begin(), told->frames.end(), [&](const NamedFrame& frame) { return frame.number == number && !frame.print.empty(); });
}

ReviewHooks hooks_for(const SavedRun& saved, const RunOptions& as_opened, Proofs& proofs) {
    ReviewHooks hooks;
    hooks.picture = [&](const std::string& scan, PxRect part, int long_side) { return sheet_picture(as_opened, scan, part, long_side, silent_observer()); };
    hooks.run_again = [&](Observer& observer) -> Result<void> {
        const auto again = saved.options();
        if (!again) return Failure(again.error());
        auto record = run(*again, observer);
        if (!record) return Failure(std::move(record.error()));
        return {};
    };
    hooks.told_of_frame = [&](const std::string& roll, int number) { return ledger_speaks_of(as_opened, roll, number); };
    if (!as_opened.positives) return hooks;
    hooks.prepare_proofs = [&](Observer& observer) -> Result<void> {
        const auto again = saved.options();
        if (!again) return Failure(again.error());
        return proofs.prepare(*again, observer);
    };
    hooks.proof = [&](const ProofWish& wish) { return proofs.proof(wish); };
    return hooks;
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
    if (options.settings.empty()) options.settings = (std::filesystem::path(options.folder) / "print.toml").string();
    const SavedRun saved(options);
    const auto as_opened = saved.options();
    if (!as_opened) return fail_with(as_opened.error());
    Proofs proofs;
    const auto served = serve_review(options, hooks_for(saved, *as_opened, proofs), console, [](const std::string& address) {
        fmt::print("Review: open {}\nThe page works until this program is stopped (Ctrl-C). Nothing is written before you save.\n", address);
        std::fflush(stdout);
    });
    return served ? kOk : fail_with(served.error());
}

}  // namespace

void add_review_command(CLI::App& app, Action& action) {
    CLI::App* command = app.add_subcommand("review", "correct frames, and how they are printed, by hand, on a page of this machine's own");
    auto typed = std::make_shared<ReviewOptions>();
    command->add_option("DIR", typed->folder, "results folder of invert or measure")->required();
    command->add_option("--layout", typed->layout, "where corrections are saved (default: layout.toml in the folder)")->option_text("FILE");
    command->add_option("--settings", typed->settings, "where choices of print are saved (default: print.toml in the folder)")->option_text("FILE");
    command->add_option("--port", typed->port, "of the page (default: any that is free)")->option_text("N")->check(CLI::Range(0, 65535));
    command->callback([&action, typed] { action = [typed] { return review(*typed); }; });
}

}  // namespace basefog::cli
