// SPDX-License-Identifier: GPL-3.0-or-later
// What lies on the desk: the layout as it stands on disk, and what the page may do with it. Knows nothing of HTTP.
#pragma once

#include "basefog/core/result.h"
#include "basefog/ledger/layout_file.h"

#include <nlohmann/json.hpp>
#include <string>
#include <vector>

namespace basefog::review {

/// A scan's size and frames' results, beside its layout.
struct SheetOnDesk {
    NamedLayout layout;
    std::int64_t width = 0, height = 0;
    std::vector<std::vector<std::string>> proofs;  ///< per strip and frame; as the run made them, empty where none
};

class Desk {
public:
    /// Reads report.json, and the layout file over it where there is one.
    [[nodiscard]] static Result<Desk> open(std::string folder, std::string layout_path);

    [[nodiscard]] const std::vector<SheetOnDesk>& sheets() const { return sheets_; }
    [[nodiscard]] const std::string& layout_path() const { return layout_path_; }
    /// Everything the page shows, and `revision`.
    [[nodiscard]] nlohmann::ordered_json state() const;
    /// Changes whenever the desk's layout does: by a save here, or by reading anew.
    [[nodiscard]] int revision() const { return revision_; }
    /// Has the layout file, or report.json, changed on disk since it was read or written here?
    [[nodiscard]] bool stale() const;

    /// Writes the layout that the page sends. What was not moved stays as it was found. Errors: usage where `revision` is not the desk's
    /// or the file has changed on disk; malformed, worded as for a layout file; unwritable.
    [[nodiscard]] Result<void> save(const nlohmann::json& sheets, int revision);
    /// Reads everything anew; the revision moves on.
    [[nodiscard]] Result<void> reload();

private:
    std::string folder_, layout_path_;
    std::vector<SheetOnDesk> sheets_;
    std::string layout_bytes_, report_bytes_;  // as last read or written
    int revision_ = 1;
};

/// The bytes of a file; empty where there is none.
[[nodiscard]] std::string bytes_of(const std::string& path);

}  // namespace basefog::review
