// SPDX-License-Identifier: GPL-3.0-or-later
// A result is whole or absent: it is written under a temporary name beside its place and renamed when complete.
#pragma once

#include "basefog/core/result.h"

#include <functional>
#include <string>
#include <string_view>

namespace basefog {

/// Owns the temporary file. Destroyed without `commit()`, it removes what was written.
class PendingFile {
public:
    /// The final path's folder must exist. Nothing is created yet: the writer opens `temporary_path()`.
    /// The temporary name keeps the final name's extension, as some libraries go by it.
    explicit PendingFile(std::string final_path);
    ~PendingFile();
    PendingFile(const PendingFile&) = delete;
    PendingFile& operator=(const PendingFile&) = delete;

    /// Whether a file of this name (without its folder) is one that was being written, by whatever run.
    [[nodiscard]] static bool is_temporary_name(std::string_view name);
    [[nodiscard]] const std::string& temporary_path() const { return temporary_path_; }
    /// Flushes the temporary file to disk and renames it over the final path.
    [[nodiscard]] Result<void> commit();

private:
    std::string final_path_;
    std::string temporary_path_;
    bool committed_ = false;
};

/// Writes text or bytes whole through a PendingFile. Errors: unwritable, with the system's reason.
[[nodiscard]] Result<void> write_whole_file(const std::string& path, std::string_view content);
/// The same piece by piece: `make` hands them to the function it is given. Errors: also those of `make`.
[[nodiscard]] Result<void> write_whole_file(const std::string& path,
                                            const std::function<Result<void>(const std::function<Result<void>(std::string_view)>& write)>& make);

}  // namespace basefog
