// SPDX-License-Identifier: GPL-3.0-or-later
// The results folder: its parts, its names, and the rule that nothing is overwritten unasked.
#pragma once

#include "basefog/core/result.h"

#include <set>
#include <string>

namespace basefog::pipeline {

class OutputFolder {
public:
    /// Creates the folder and its parts. Errors: unwritable; also when results are there already and `replace` is false.
    [[nodiscard]] static Result<OutputFolder> open(const std::string& folder, bool positives, bool replace);

    [[nodiscard]] const std::string& path() const { return folder_; }
    /// Absolute form of a path relative to the folder.
    [[nodiscard]] std::string absolute(const std::string& relative) const;
    /// A relative path `part`/`stem``ending` that no other result of this run has.
    [[nodiscard]] std::string unique(const std::string& part, const std::string& stem, const std::string& ending);

private:
    explicit OutputFolder(std::string folder) : folder_(std::move(folder)) {}
    std::string folder_;
    std::set<std::string> taken_;  // in lower case: some file systems do not tell cases apart
};

}  // namespace basefog::pipeline
