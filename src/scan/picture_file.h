// SPDX-License-Identifier: GPL-3.0-or-later
// What both picture libraries need around them: a stdio file, and words for what went wrong.
#pragma once

#include "basefog/core/result.h"

#include <cstdio>
#include <memory>
#include <string>

namespace basefog::scan {

using PictureFile = std::unique_ptr<std::FILE, int (*)(std::FILE*)>;
[[nodiscard]] inline PictureFile open_picture_file(const std::string& path) { return {std::fopen(path.c_str(), "rbe"), std::fclose}; }

/// `complaint`: the library's, or empty.
[[nodiscard]] inline Failure undecodable(const PictureFile& file, const std::string& path, const std::string& complaint) {
    if (file == nullptr) return fail(ErrorCode::unreadable, "cannot be opened", path, "check that you may read it");
    if (std::ferror(file.get()) != 0) return fail(ErrorCode::unreadable, "could not be read to its end", path, "check the disk, and copy the file again");
    return fail(ErrorCode::malformed, "its pixels cannot be decoded" + (complaint.empty() ? complaint : " (" + complaint + ")"), path, "copy or scan it again");
}

}  // namespace basefog::scan
