// SPDX-License-Identifier: GPL-3.0-or-later
// The files a run reads: which they are, whatever they are called, and whether they stayed the same.
#pragma once

#include "basefog/pipeline/run.h"
#include "plan.h"

#include <cstdint>
#include <optional>
#include <set>
#include <string>
#include <utility>
#include <vector>

namespace basefog::pipeline {

/// A file's identity and state; equal stamps mean that nothing was written to it in between.
struct FileStamp {
    std::uint64_t device = 0, inode = 0;
    std::int64_t size = 0, modified_s = 0, modified_ns = 0;
    friend bool operator==(const FileStamp&, const FileStamp&) = default;
};
/// nullopt when the file cannot be looked at.
[[nodiscard]] std::optional<FileStamp> stamp_of(const std::string& path);

/// The scan and those that go with it: infrared, light frame, dark frame.
[[nodiscard]] std::vector<std::string> files_of(const SheetPlan& sheet);
/// The stamps of a sheet's files.
[[nodiscard]] std::vector<std::optional<FileStamp>> stamps_of(const SheetPlan& sheet);

/// Every file the run reads; nothing may be written over one of them, by whatever path it is reached.
class InputFiles {
public:
    InputFiles(const RunOptions& options, const Plan& plan);
    [[nodiscard]] bool holds(const std::string& path) const;

private:
    std::set<std::pair<std::uint64_t, std::uint64_t>> identities_;
};

}  // namespace basefog::pipeline
