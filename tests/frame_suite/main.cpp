// SPDX-License-Identifier: GPL-3.0-or-later
// basefog-frame-suite: random sheets against the frame finder. Each sheet is a process of its own, so that one on which the
// finder aborts or never ends costs that sheet only.
#include "frame_suite/summary.h"
#include "frame_suite/tables.h"
#include "frame_suite/try_sheet.h"
#include "support/temporary_folder.h"

#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>
#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <map>
#include <stdexcept>
#include <string>

namespace {

using namespace basefog::suite;
namespace fs = std::filesystem;

constexpr unsigned kSecondsPerSheet = 300;
constexpr std::size_t kWorstDrawn = 10;

constexpr const char* kUsage =
    "usage: basefog-frame-suite [--seeds 1-300] [--jobs 2] [--json FILE] [--worst-dir DIR] [--picture-dir DIR] [--write-dir DIR]\n"
    "Draws sheets by lot, finds their frames and compares. Exit 1: a limit is not kept.\n"
    "  --seeds       which sheets: 7, 1-300, or 3,8,20-25\n"
    "  --jobs        sheets at a time\n"
    "  --json        every frame's outcome\n"
    "  --worst-dir   pictures of the ten worst sheets: truth green (blank and fogged yellow), finds red\n"
    "  --picture-dir the same of every sheet\n"
    "  --write-dir   only writes the sheets and their truth there; finds nothing\n";

struct Options {
    std::vector<std::uint64_t> seeds;
    int jobs = 2;
    std::string json, worst, pictures, write;
};

std::vector<std::uint64_t> parse_seeds(const std::string& text) {
    std::vector<std::uint64_t> out;
    for (std::size_t at = 0; at < text.size();) {
        const std::size_t end = std::min(text.find(',', at), text.size());
        const std::string part = text.substr(at, end - at);
        const std::size_t dash = part.find('-');
        const std::uint64_t from = std::stoull(part), to = dash == std::string::npos ? from : std::stoull(part.substr(dash + 1));
        for (std::uint64_t seed = from; seed <= to; ++seed) out.push_back(seed);
        at = end + 1;
    }
    return out;
}

Options parse(int argc, char** argv) {
    Options out;
    std::string seeds = "1-300";
    const std::map<std::string, std::string*> texts{
        {"--seeds", &seeds}, {"--json", &out.json}, {"--worst-dir", &out.worst}, {"--picture-dir", &out.pictures}, {"--write-dir", &out.write}};
    for (int i = 1; i < argc; ++i) {
        const std::string name = argv[i];
        if (i + 1 >= argc) throw std::invalid_argument(name);
        if (name == "--jobs") {
            out.jobs = std::clamp(std::atoi(argv[++i]), 1, 64);
        } else {
            *texts.at(name) = argv[++i];
        }
    }
    out.seeds = parse_seeds(seeds);
    return out;
}

/// In the child: one sheet, its outcome as a file.
[[noreturn]] void work(std::uint64_t seed, const Options& options, const std::string& folder) {
    const rlimit no_core{0, 0};
    setrlimit(RLIMIT_CORE, &no_core);
    alarm(kSecondsPerSheet);
    int code = 0;
    try {
        if (!options.write.empty()) {
            write_sheet(seed, options.write);
        } else {
            const std::string picture = options.pictures.empty() ? "" : (fs::path(options.pictures) / ("sheet-" + std::to_string(seed) + ".png")).string();
            std::ofstream(fs::path(folder) / (std::to_string(seed) + ".json")) << nlohmann::json(try_sheet(seed, folder, picture)).dump();
        }
    } catch (const std::exception& e) {
        std::fprintf(stderr, "sheet %llu: %s\n", static_cast<unsigned long long>(seed), e.what());
        code = 3;
    }
    _exit(code);  // what stands in stdout's buffer is the parent's
}

std::string ending(int status) {
    if (WIFEXITED(status) && WEXITSTATUS(status) == 0) return "";
    if (WIFSIGNALED(status) && WTERMSIG(status) == SIGALRM) return "took too long";
    return WIFSIGNALED(status) ? "ended by signal " + std::to_string(WTERMSIG(status)) : "failed";
}

std::vector<SheetOutcome> run(const Options& options, const std::string& folder) {
    std::map<pid_t, std::uint64_t> busy;
    std::map<std::uint64_t, SheetOutcome> done;
    const auto reap = [&] {
        int status = 0;
        const pid_t child = wait(&status);
        const auto found = busy.find(child);
        if (found == busy.end()) return;
        const std::uint64_t seed = found->second;
        busy.erase(found);
        const fs::path file = fs::path(folder) / (std::to_string(seed) + ".json");
        const std::string why = ending(status);
        std::ifstream in(file);
        done[seed] = why.empty() && in ? nlohmann::json::parse(in).get<SheetOutcome>() : failed(seed, why.empty() ? "left no outcome" : why);
        if (isatty(STDERR_FILENO)) std::fprintf(stderr, "\r%zu of %zu sheets", done.size(), options.seeds.size());
    };
    for (const std::uint64_t seed : options.seeds) {
        while (busy.size() >= static_cast<std::size_t>(options.jobs)) reap();
        const pid_t child = fork();
        if (child < 0) throw std::runtime_error("cannot start a process");
        if (child == 0) work(seed, options, folder);
        busy[child] = seed;
    }
    while (!busy.empty()) reap();
    std::vector<SheetOutcome> out;
    for (auto& [seed, sheet] : done) out.push_back(std::move(sheet));
    return out;
}

}  // namespace

int main(int argc, char** argv) {
    Options options;
    try {
        options = parse(argc, argv);
    } catch (const std::exception&) {
        std::fputs(kUsage, stderr);
        return 2;
    }
    try {
        const basefog::TemporaryFolder folder;
        for (const std::string& wanted : {options.pictures, options.worst}) {
            if (!wanted.empty()) fs::create_directories(wanted);
        }
        const std::vector<SheetOutcome> sheets = run(options, folder.path().string());
        if (!options.write.empty()) return 0;
        const Summary summary = summarise(sheets);
        std::fputs(markdown(summary, sheets).c_str(), stdout);
        if (!options.json.empty()) std::ofstream(options.json) << nlohmann::json(sheets).dump(1) << '\n';
        if (!options.worst.empty() && !summary.worst.empty()) {
            Options again = options;
            again.pictures = options.worst;
            again.seeds.assign(summary.worst.begin(), summary.worst.begin() + static_cast<std::ptrdiff_t>(std::min(kWorstDrawn, summary.worst.size())));
            run(again, folder.path().string());
        }
        const std::vector<std::string> broken = broken_limits(summary);
        for (const std::string& line : broken) std::printf("\nLimit not kept: %s.", line.c_str());
        if (!broken.empty()) std::printf("\n");
        return broken.empty() ? 0 : 1;
    } catch (const std::exception& e) {
        std::fprintf(stderr, "basefog-frame-suite: %s\n", e.what());
        return 4;
    }
}
