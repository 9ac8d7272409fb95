// SPDX-License-Identifier: GPL-3.0-or-later
// Which groups of sheets are finished: kept in the results' folder `resume`, one file per group, each whole or absent, so that a second run goes
// on where one was stopped. See docs/decisions/0010-resume.md.
#pragma once

#include "group_results.h"
#include "input_files.h"
#include "outputs.h"
#include "plan.h"

#include <map>
#include <optional>
#include <string>
#include <vector>

namespace basefog::pipeline {

/// A file the results came from or that belongs to them, as it was then.
struct KnownFile {
    std::string path;                            ///< of a result: relative to the folder
    std::optional<FileStamp> stamp;              ///< nullopt: it was not there
    std::int64_t changed_s = 0, changed_ns = 0;  ///< the system's time of last change, which no program sets at will
    std::string digest;                          ///< SHA-256 of an input's content
};

/// A group of sheets by all that its results depend on.
struct GroupWork {
    std::string key;
    std::vector<std::string> inputs;  ///< paths
};
/// Of each of the plan's groups.
[[nodiscard]] std::vector<GroupWork> works_of(const RunOptions& options, const Plan& plan, const std::string& run_key);

class FinishedWork {
public:
    /// Of the run with this key into this folder. Nothing is read before the folder is claimed.
    FinishedWork(std::string folder, std::string run_key) : folder_(std::move(folder)), run_key_(std::move(run_key)) {}
    [[nodiscard]] const std::string& run_key() const { return run_key_; }

    /// Whether all results in the folder are finished ones of these groups, unchanged, or were never finished: nothing is lost by going on.
    [[nodiscard]] bool belongs_to(const std::vector<GroupWork>& groups);
    /// Writes down whose results these will be; forgets everything of another run or, if so told, of any. Errors: unwritable.
    [[nodiscard]] Result<void> begin(bool anew);
    /// The results of a finished group whose inputs and result files are as they were; the latter's names are then taken again.
    [[nodiscard]] std::optional<GroupResults> take_over(const GroupWork& group, const std::vector<int>& scan_index, OutputFolder& output);
    /// Notes the inputs' state before they are read, for `finish`.
    void start(const GroupWork& group);
    /// Keeps a group's results. `names` were given to it. Does nothing when an input changed since `start`. Errors: unwritable.
    [[nodiscard]] Result<void> finish(const GroupWork& group, const GroupResults& results, const std::vector<int>& scan_index,
                                      const std::vector<GivenName>& names);

private:
    struct Entry {
        std::vector<KnownFile> inputs, results;
        std::vector<GivenName> names;
    };
    /// What an earlier run left, if it was of the same program and choices.
    void read_once();
    [[nodiscard]] std::string path_of(const std::string& key) const;
    [[nodiscard]] bool inputs_agree(Entry& entry, const GroupWork& group) const;
    [[nodiscard]] bool results_agree(const Entry& entry, bool absent_counts) const;

    std::string folder_, run_key_;
    bool read_ = false, same_run_ = false;
    std::map<std::string, Entry> entries_;  ///< by key
    std::vector<KnownFile> started_;
};

}  // namespace basefog::pipeline
