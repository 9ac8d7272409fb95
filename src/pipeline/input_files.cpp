// SPDX-License-Identifier: GPL-3.0-or-later
#include "input_files.h"

#include <sys/stat.h>

namespace basefog::pipeline {

std::optional<FileStamp> stamp_of(const std::string& path) {
    struct stat state {};
    if (::stat(path.c_str(), &state) != 0) return std::nullopt;
    return FileStamp{state.st_dev, state.st_ino, state.st_size, state.st_mtim.tv_sec, state.st_mtim.tv_nsec};
}

std::vector<std::string> files_of(const SheetPlan& sheet) {
    std::vector<std::string> files{sheet.path};
    for (const std::string& path : {sheet.scan.infrared_path, sheet.scan.light_frame_path, sheet.scan.dark_frame_path})
        if (!path.empty()) files.push_back(path);
    files.insert(files.end(), sheet.scan.other_exposures.begin(), sheet.scan.other_exposures.end());
    for (const ShotFiles& shot : sheet.scan.further_shots) {
        files.push_back(shot.path);
        files.insert(files.end(), shot.other_exposures.begin(), shot.other_exposures.end());
    }
    return files;
}

std::vector<std::optional<FileStamp>> stamps_of(const SheetPlan& sheet) {
    std::vector<std::optional<FileStamp>> stamps;
    for (const std::string& path : files_of(sheet)) stamps.push_back(stamp_of(path));
    return stamps;
}

InputFiles::InputFiles(const RunOptions& options, const Plan& plan) {
    std::vector<std::string> paths{options.layout_path, options.settings_path, options.invert.profile_path};
    if (options.ledger) paths.push_back(options.ledger->path);
    for (const SheetPlan& sheet : plan.sheets) {
        for (std::string& path : files_of(sheet)) paths.push_back(std::move(path));
    }
    for (const std::string& path : paths)
        if (const auto stamp = path.empty() ? std::nullopt : stamp_of(path)) identities_.insert({stamp->device, stamp->inode});
}

bool InputFiles::holds(const std::string& path) const {
    const auto stamp = stamp_of(path);
    return stamp && identities_.contains({stamp->device, stamp->inode});
}

}  // namespace basefog::pipeline
