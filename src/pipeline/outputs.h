// SPDX-License-Identifier: GPL-3.0-or-later
// The results folder: its parts, its names, and the rule that nothing is overwritten unasked.
#pragma once

#include "input_files.h"

#include "basefog/core/result.h"

#include <functional>
#include <memory>
#include <set>
#include <string>
#include <vector>

namespace basefog::pipeline {

/// A name as it was asked for, and as it was given.
struct GivenName {
    std::string part, stem, ending, relative;
};

class OutputFolder {
public:
    /// Creates the folder and its parts, and claims it until destroyed, so that no second run writes there at the same time.
    /// `inputs` are never written over. What a run that was killed left half-written is removed. Errors: unwritable; also when results are there
    /// already that `may_go_on`, asked only then, does not allow to be written over.
    [[nodiscard]] static Result<OutputFolder> open(const std::string& folder, bool positives, const std::function<bool()>& may_go_on, const InputFiles& inputs);

    [[nodiscard]] const std::string& path() const { return folder_; }
    /// Makes a further part. Errors: unwritable.
    [[nodiscard]] Result<void> add_part(const std::string& part);
    /// Absolute form of a path relative to the folder.
    [[nodiscard]] std::string absolute(const std::string& relative) const;
    /// A relative path `part`/`stem``ending` that no other result of this run has and no file of its input either.
    [[nodiscard]] std::string unique(const std::string& part, const std::string& stem, const std::string& ending);
    /// All names given so far, in order.
    [[nodiscard]] const std::vector<GivenName>& names() const { return names_; }
    /// Asks for names once more. False, and nothing taken, when one of them would be another now.
    [[nodiscard]] bool take_again(const std::vector<GivenName>& names);
    /// Removes the files that names beyond the first `count` were given for.
    void remove_named_since(std::size_t count) const;
    /// How many files lie in the parts that this run did not name: an earlier run's.
    [[nodiscard]] int count_leftovers() const;

private:
    struct Claim;
    OutputFolder(std::string folder, std::shared_ptr<Claim> claim, const InputFiles& inputs)
        : folder_(std::move(folder)), claim_(std::move(claim)), inputs_(&inputs) {}
    std::string folder_;
    std::shared_ptr<Claim> claim_;
    const InputFiles* inputs_;
    std::vector<GivenName> names_;
    std::set<std::string> taken_;  // in lower case: some file systems do not tell cases apart
};

}  // namespace basefog::pipeline
