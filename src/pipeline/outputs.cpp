// SPDX-License-Identifier: GPL-3.0-or-later
#include "outputs.h"

#include <unistd.h>
#include <algorithm>
#include <array>
#include <cctype>
#include <filesystem>
#include <vector>

namespace basefog::pipeline {
namespace fs = std::filesystem;

namespace {

constexpr std::array<const char*, 4> kParts{"positives", "proofs", "contact", "maps"};
constexpr std::array<const char*, 3> kReports{"report.json", "report.html", "frames.csv"};

bool holds_results(const fs::path& folder) {
    std::error_code ignored;
    for (const char* name : kReports)
        if (fs::exists(folder / name, ignored)) return true;
    for (const char* part : kParts)
        if (fs::is_directory(folder / part, ignored) && !fs::is_empty(folder / part, ignored)) return true;
    return false;
}

}  // namespace

Result<OutputFolder> OutputFolder::open(const std::string& folder, bool positives, bool replace) {
    std::error_code error;
    if (fs::exists(folder, error) && !fs::is_directory(folder, error))
        return fail(ErrorCode::unwritable, "is a file, not a folder", folder, "choose another --output");
    if (!replace && holds_results(folder))
        return fail(ErrorCode::unwritable, "already holds results, which are never overwritten unasked", folder,
                    "give another --output, or --replace to write over them");
    std::vector<const char*> parts{"maps"};
    if (positives) parts.assign(kParts.begin(), kParts.end());
    for (const char* part : parts) {
        fs::create_directories(fs::path(folder) / part, error);
        if (error) return fail(ErrorCode::unwritable, "cannot be created: " + error.message(), folder, "choose an --output that may be written");
    }
    if (::access(folder.c_str(), W_OK) != 0) return fail(ErrorCode::unwritable, "may not be written to", folder, "choose an --output that may be written");
    return OutputFolder(folder);
}

std::string OutputFolder::absolute(const std::string& relative) const { return (fs::path(folder_) / relative).string(); }

std::string OutputFolder::unique(const std::string& part, const std::string& stem, const std::string& ending) {
    const std::string prefix = part.empty() ? std::string{} : part + "/";
    std::string relative = prefix + stem + ending;
    const auto key = [](std::string text) {
        std::transform(text.begin(), text.end(), text.begin(), [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
        return text;
    };
    for (int i = 2; !taken_.insert(key(relative)).second; ++i) relative = prefix + stem + "-" + std::to_string(i) + ending;
    return relative;
}

}  // namespace basefog::pipeline
