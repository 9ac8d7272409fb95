// SPDX-License-Identifier: GPL-3.0-or-later
// A batch of small sheets, and what a run made of it.
#pragma once

#include "cli/program.h"

#include <map>

namespace basefog {

/// The time that goes into reports, the same for all runs.
inline const std::string kFixedTime = "SOURCE_DATE_EPOCH=1700000000";

/// A strip of three frames.
inline void draw_sheet(const std::string& path, std::uint64_t seed) {
    synthetic::SheetSpec spec = synthetic::small_sheet(seed);
    spec.strips.resize(1);
    spec.height = 60;
    synthetic::write_small_sheet(path, spec);
}

/// Sheets a.tif, b.tif...; drawn once.
inline void put_sheets(const TemporaryFolder& folder, int n) {
    static const TemporaryFolder drawn;
    for (int i = 0; i < n; ++i) {
        const std::string name = std::string(1, static_cast<char>('a' + i)) + ".tif";
        if (!std::filesystem::exists(drawn.file(name))) draw_sheet(drawn.file(name), static_cast<std::uint64_t>(i) + 1);
        std::filesystem::copy_file(drawn.file(name), folder.file(name));
    }
}

/// Every file of a results folder but what the next run takes over, whose file times differ from run to run.
inline std::map<std::string, std::string> results(const std::string& folder) {
    std::map<std::string, std::string> files;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) {
        const std::string name = std::filesystem::relative(entry.path(), folder).string();
        if (entry.is_regular_file() && !name.starts_with("resume/")) files[name] = content_of(entry.path().string());
    }
    return files;
}

inline int temporary_files(const std::string& folder) {
    int n = 0;
    for (const auto& entry : std::filesystem::recursive_directory_iterator(folder)) n += entry.path().filename().string().starts_with(".pending") ? 1 : 0;
    return n;
}

inline Ran invert(const TemporaryFolder& folder, const std::string& arguments, const std::string& before = "") {
    return run_program(folder, "invert " + arguments, kFixedTime + " " + before);
}

}  // namespace basefog
