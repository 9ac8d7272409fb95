// SPDX-License-Identifier: GPL-3.0-or-later
// Writes two invented years as results folders, for looking at the history by eye; the truth goes into a folder of its own.
#include "support/synthetic_history.h"

#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <string>

namespace fs = std::filesystem;

int main(int argc, char** argv) {
    synthetic::YearsSpec spec;
    std::string folder;
    for (int i = 1; i < argc; ++i) {
        const std::string argument = argv[i];
        if (argument == "--nothing-planted") {
            spec.planted = false;
        } else if (argument == "--seed" && i + 1 < argc) {
            spec.seed = std::strtoull(argv[++i], nullptr, 10);
        } else if (folder.empty() && !argument.starts_with("-")) {
            folder = argument;
        } else {
            folder.clear();
            break;
        }
    }
    if (folder.empty()) {
        std::fprintf(
            stderr,
            "usage: basefog-make-history FOLDER [--seed N] [--nothing-planted]\nWrites FOLDER/results/DATE/report.json for each session, and FOLDER/truth/.\n");
        return 2;
    }
    try {
        const synthetic::Years years = synthetic::simulate_years(spec);
        fs::create_directories(fs::path(folder) / "truth");
        for (const synthetic::SessionReport& session : years.sessions) {
            const fs::path results = fs::path(folder) / "results" / session.folder;
            fs::create_directories(results);
            std::ofstream(results / "report.json", std::ios::binary) << session.json;
        }
        std::ofstream(fs::path(folder) / "truth" / "years.truth.json", std::ios::binary) << synthetic::truth_json(years.truth);
        std::printf("%zu sessions in %s\n", years.sessions.size(), (fs::path(folder) / "results").string().c_str());
    } catch (const std::exception& e) {
        std::fprintf(stderr, "basefog-make-history: %s\n", e.what());
        return 4;
    }
    return 0;
}
