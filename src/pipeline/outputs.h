// SPDX-License-Identifier: GPL-3.0-or-later
// The results folder: its parts, its names, and the rule that nothing is overwritten unasked.
#pragma once

#include "input_files.h"

#include "basefog/core/result.h"

#include <memory>
#include <set>
#include <string>

namespace basefog::pipeline {

class OutputFolder {
public:
    /// Creates the folder and its parts, and claims it until destroyed, so that no second run writes there at the same time.
    /// `inputs` are never written over. Errors: unwritable; also when results are there already and `replace` is false.
    [[nodiscard]] static Result<OutputFolder> open(const std::string& folder, bool positives, bool replace, const InputFiles& inputs);

    [[nodiscard]] const std::string& path() const { return folder_; }
    /// Makes a further part. Errors: unwritable.
    [[nodiscard]] Result<void> add_part(const std::string& part);
    /// Absolute form of a path relative to the folder.
    [[nodiscard]] std::string absolute(const std::string& relative) const;
    /// A relative path `part`/`stem``ending` that no other result of this run has and no file of its input either.
    [[nodiscard]] std::string unique(const std::string& part, const std::string& stem, const std::string& ending);
    /// How many files lie in the parts that this run did not name: an earlier run's.
    [[nodiscard]] int count_leftovers() const;

private:
    struct Claim;
    OutputFolder(std::string folder, std::shared_ptr<Claim> claim, const InputFiles& inputs)
        : folder_(std::move(folder)), claim_(std::move(claim)), inputs_(&inputs) {}
    std::string folder_;
    std::shared_ptr<Claim> claim_;
    const InputFiles* inputs_;
    std::set<std::string> taken_;  // in lower case: some file systems do not tell cases apart
};

}  // namespace basefog::pipeline
