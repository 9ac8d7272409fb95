// SPDX-License-Identifier: GPL-3.0-or-later
// What lies on the desk: layout and settings as they stand on disk, and what the page may do with them. Knows nothing of HTTP.
#pragma once

#include "basefog/core/result.h"
#include "basefog/ledger/layout_file.h"
#include "basefog/ledger/settings_file.h"

#include <functional>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <vector>

namespace basefog::review {

/// A scan's size and frames' results, beside its layout.
struct SheetOnDesk {
    NamedLayout layout;
    std::int64_t width = 0, height = 0;
    std::vector<std::vector<std::string>> proofs;  ///< per strip and frame; as the run made them, empty where none
};

struct DeskPaths {
    std::string folder, layout, settings;
};

class Desk {
public:
    using ToldOfFrame = std::function<bool(const std::string& roll, int number)>;

    /// Reads report.json, and the layout and settings files over it where there are any. `told_of_frame` as in ReviewHooks.
    [[nodiscard]] static Result<Desk> open(DeskPaths paths, ToldOfFrame told_of_frame = {});

    [[nodiscard]] const std::vector<SheetOnDesk>& sheets() const { return sheets_; }
    /// Everything the page shows, and `revision`. Without positives in the run, nothing of print.
    [[nodiscard]] nlohmann::ordered_json state() const;
    /// Changes whenever what is on the desk does: by a save here, or by reading anew.
    [[nodiscard]] int revision() const { return revision_; }
    /// Has one of the files changed on disk since it was read or written here?
    [[nodiscard]] bool stale() const;

    /// Writes the layout and the choices of print that the page sends, whichever of the two differs from what it was. What was not moved stays as it was
    /// found. Errors: usage where `revision` is not the desk's or a file has changed on disk; malformed, worded as for the file; unwritable. After an
    /// error both files are as they were. Gives the names of the files it wrote.
    [[nodiscard]] Result<std::vector<std::string>> save(const nlohmann::json& sent, int revision);
    /// Reads everything anew; the revision moves on.
    [[nodiscard]] Result<void> reload();

private:
    struct Bytes {
        std::string report, layout, run_settings, settings;  // as last read or written
        friend bool operator==(const Bytes&, const Bytes&) = default;
    };
    [[nodiscard]] Bytes read_bytes() const;
    [[nodiscard]] Result<std::optional<std::vector<NamedLayout>>> changed_layouts(const nlohmann::json& sheets) const;
    [[nodiscard]] Result<std::optional<Settings>> changed_settings(const nlohmann::json& sent) const;
    [[nodiscard]] Result<void> write(const std::string& layout, const std::string& settings);

    DeskPaths paths_;
    ToldOfFrame told_of_frame_;
    std::string run_settings_path_;  // empty: the run made no positives
    std::vector<SheetOnDesk> sheets_;
    std::optional<Settings> settings_;
    Bytes bytes_;
    int revision_ = 1;
};

/// The bytes of a file; empty where there is none.
[[nodiscard]] std::string bytes_of(const std::string& path);

}  // namespace basefog::review
