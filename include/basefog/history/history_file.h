// SPDX-License-Identifier: GPL-3.0-or-later
// The history on disk: one SQLite file, whole at every moment. What is damaged, newer or not a history is never written to.
#pragma once

#include "basefog/core/observer.h"
#include "basefog/core/result.h"
#include "basefog/history/types.h"

#include <memory>
#include <string>
#include <vector>

namespace basefog {

struct AddSummary {
    int added = 0;     ///< rolls that were not there
    int replaced = 0;  ///< newer results of a roll that was; the older stay in the file, set behind
    int known = 0;     ///< the very same results
    int older = 0;     ///< there are newer results of the roll already
    friend bool operator==(const AddSummary&, const AddSummary&) = default;
};

enum class HistoryAccess { read, write };

class HistoryFile {
public:
    /// Checks the file whole before anything else (PRAGMA integrity_check). With `write` a missing file and its folder are made, and an
    /// older layout is brought up to date after a backup beside it, of which the observer is told. With `read` a missing file is an error.
    [[nodiscard]] static Result<HistoryFile> open(const std::string& path, HistoryAccess access, Observer& observer);
    HistoryFile(HistoryFile&&) noexcept;
    HistoryFile& operator=(HistoryFile&&) noexcept;
    ~HistoryFile();

    /// All or nothing: one transaction. The order of adding does not matter.
    [[nodiscard]] Result<AddSummary> add(const std::vector<HistoryRoll>& rolls);
    /// The newest results of each roll, oldest session first; `all` with those set behind.
    [[nodiscard]] Result<std::vector<HistoryRoll>> rolls(bool all = false) const;

private:
    struct Connection;
    explicit HistoryFile(std::unique_ptr<Connection> connection);
    std::unique_ptr<Connection> connection_;
};

/// $XDG_DATA_HOME/basefog/history.sqlite, or below ~/.local/share; empty when neither folder is known. The environment is an argument:
/// null for what is not set. A relative XDG_DATA_HOME does not count [XDG-basedir].
[[nodiscard]] std::string default_history_path(const char* xdg_data_home, const char* home);

}  // namespace basefog
